package loss

import "fmt"

func (w *Watch) Debug() string {
	s := fmt.Sprintf("use %.0f days %.0f lvl %.0f p %.1f calm %.1f ev", w.profile.use, w.profile.days, w.hours.level, w.hours.p, w.hours.calm)
	for i := range w.hours.bank {
		s += fmt.Sprintf(" %.1f", w.hours.bank[i].evidence)
	}
	s += fmt.Sprintf(" | nights mu %.2f sdp %.2f tau %.2f n %.0f ev", w.nights.usual, w.nights.p, w.nights.tau2, w.nights.n)
	for i := range w.nights.bank {
		s += fmt.Sprintf(" %.1f", w.nights.bank[i].evidence)
	}
	return s
}
