package loss

import "fmt"

func (w *Watch) Debug() string {
	s := fmt.Sprintf("use %.0f days %.0f lvl %.0f p %.1f calm %.1f ev", w.profile.use, w.profile.days, w.hours.level, w.hours.p, w.hours.calm)
	for i := range w.hours.bank {
		s += fmt.Sprintf(" %.1f", w.hours.bank[i].evidence)
	}
	s += fmt.Sprintf(" | nights mu %.2f sdp %.2f tau %.2f s2 %.2f n %.0f day %.1f var %.0f open %v ev", w.nights.usual, w.nights.p, w.nights.tau2, w.nights.s2.E, w.nights.n, w.nights.days.mean, w.nights.days.variance, w.open.believed)
	for i := range w.nights.bank {
		c := &w.nights.bank[i]
		m, k := w.nights.days.evidence(c, slowRates[i])
		s += fmt.Sprintf(" %.1f%+.1f(%.1f)n%d", c.evidence, m, k, c.n)
	}
	return s
}
