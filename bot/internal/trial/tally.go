package trial

import (
	"fmt"
	"io"
	"math"
	"slices"
)

// tally sums up scores.
type tally struct {
	loss, ape, ours, makers, makersAPE []float64
	cover80, cover90, stockout         share
	absent, falses, dangers, asked     int
	years                              float64
	left                               []float64
	falseBy                            []float64 // false alarms of each household
	first, guessed                     share
	found                              map[string][]float64 // hours to the notice, by kind of loss
	lost                               map[string][]float64
	of                                 map[string]int
	slow                               share
	slowRatio                          []float64
}

// WriteScore prints the figures of cylinders that were followed to their ends. Lower is better unless said.
//
//	crps_vs_maker    mean quantile loss of the run-out, relative to the time it took, over that of the maker's arithmetic
//	cover80 cover90  share of run-outs inside p10-p90 and p05-p95: should be 0.80 and 0.90
//	first weeks      share inside p10-p90 of what was said on days 1 to 21, without and with the household's own guess of its use
//	stockout         share that ended before a refill booked at the first reminder came; leftover_d: what was left of the others
//	false_leaks      possible leaks told a year without one, asked: within two days of weight that really left the platform;
//	                 none: share of households without any
//	leak             told after so many hours, grams lost by then; slow_found: of those that quiet nights could show
func WriteScore(w io.Writer, scores []Score) {
	t := tally{found: map[string][]float64{}, lost: map[string][]float64{}, of: map[string]int{}}
	unended := 0
	for _, s := range scores {
		if s.RunOut == never {
			unended++
			continue
		}
		t.add(s)
	}
	fmt.Fprintf(w, "  %d cylinders (%d more did not end), %.1f years\n", len(scores)-unended, unended, t.years)
	if len(t.loss) > 0 {
		fmt.Fprintf(w, "  forecasts %d (absent %d)  qloss %.3f  ape50 median %.3f  cover80 %.3f  cover90 %.3f\n", len(t.loss), t.absent, mean(t.loss), median(t.ape), t.cover80.value(), t.cover90.value())
		fmt.Fprintf(w, "  crps_vs_maker %.3f  maker ape median %.3f\n", mean(t.ours)/mean(t.makers), median(t.makersAPE))
		fmt.Fprintf(w, "  first weeks cover80 %.3f, with a guess %.3f, of %d days\n", t.first.value(), t.guessed.value(), t.first.of)
		fmt.Fprintf(w, "  stockout %.3f  leftover_d median %.1f\n", t.stockout.value(), median(t.left))
	}
	none := 0
	for _, n := range t.falseBy {
		if n == 0 {
			none++
		}
	}
	if len(t.falseBy) == 0 {
		return
	}
	fmt.Fprintf(w, "  false_leaks %.3f a year  false_danger %.3f  none %.2f  most %.0f  (asked %d)\n", float64(t.falses)/t.years, float64(t.dangers)/t.years,
		float64(none)/float64(len(t.falseBy)), slices.Max(t.falseBy), t.asked)
	for _, k := range kinds {
		if t.of[k] > 0 {
			fmt.Fprintf(w, "  leak %s: found %d/%d  hours median %.1f  grams lost median %.0f\n", k, len(t.found[k]), t.of[k], median(t.found[k]), median(t.lost[k]))
		}
	}
	if t.slow.of > 0 {
		fmt.Fprintf(w, "  slow_found %.3f of %d  slow_delay_ratio median %.2f\n", t.slow.value(), t.slow.of, median(t.slowRatio))
	}
}

func (t *tally) add(s Score) {
	lossAt := math.Inf(1)
	if len(s.Home.leaks) > 0 {
		lossAt = float64(s.Home.leaks[0].start)
	} else {
		t.forecasts(s)
	}
	t.years += min(lossAt, float64(s.RunOut)) / day / 365.25
	falses := 0
	for _, a := range s.Alarms {
		if a.minute >= lossAt {
			continue
		}
		if askedWell(s.Home, a.minute) {
			t.asked++
			continue
		}
		falses++
		if a.danger {
			t.dangers++
		}
	}
	t.falses += falses
	t.falseBy = append(t.falseBy, float64(falses))
	if lossAt < float64(s.RunOut) {
		t.leak(s, s.Home.leaks[0])
	}
}

// askedWell is whether weight really left the platform in the two days before.
func askedWell(h *Home, m float64) bool {
	return slices.ContainsFunc(h.scale.shifts, func(x span) bool {
		return x.by < 0 && float64(x.from) <= m && m <= float64(x.from+2*day)
	})
}

func (t *tally) forecasts(s Score) {
	for _, f := range s.Checks {
		if !f.known {
			t.absent++
			continue
		}
		if f.days <= 0.2 {
			continue
		}
		loss := quantileLoss(f.q, f.days) / f.days
		t.loss = append(t.loss, loss)
		t.ape = append(t.ape, math.Abs(f.q[3]-f.days)/f.days)
		t.cover80.add(f.q[1] <= f.days && f.days <= f.q[5])
		t.cover90.add(f.q[0] <= f.days && f.days <= f.q[6])
		if k := f.maker; !math.IsNaN(k) {
			t.ours = append(t.ours, loss)
			t.makers = append(t.makers, quantileLoss([7]float64{k, k, k, k, k, k, k}, f.days)/f.days)
			t.makersAPE = append(t.makersAPE, math.Abs(k-f.days)/f.days)
		}
	}
	for i, f := range s.First {
		if g := s.Guessed[i]; f.known && g.known {
			t.first.add(f.q[1] <= f.days && f.days <= f.q[5])
			t.guessed.add(g.q[1] <= f.days && f.days <= g.q[5])
		}
	}
	comes := s.Booked + s.Home.lead*day
	t.stockout.add(s.Booked == never || comes > s.RunOut)
	if s.Booked != never && comes <= s.RunOut {
		t.left = append(t.left, float64(s.RunOut-comes)/day)
	}
}

func (t *tally) leak(s Score, l leak) {
	t.of[l.kind]++
	hours := math.NaN()
	for _, a := range s.Alarms {
		if a.minute >= float64(l.start) {
			hours = (a.minute - float64(l.start)) / 60
			lasted := hours
			if l.hours > 0 {
				lasted = min(hours, l.hours)
			}
			t.found[l.kind], t.lost[l.kind] = append(t.found[l.kind], hours), append(t.lost[l.kind], l.rate*lasted)
			break
		}
	}
	// Nights in which the slope of quiet readings alone is four of its sigma, for who knows everything else.
	every := float64(s.Home.scale.every) / 60
	n := 6.5/every + 1
	nights := math.Pow(4*s.Home.scale.sd/(every*math.Sqrt(n*n*n/12))/l.rate, 2)
	if l.kind == "slow" && 1+nights < float64(s.RunOut-l.start)/day {
		t.slow.add(!math.IsNaN(hours))
		if !math.IsNaN(hours) {
			t.slowRatio = append(t.slowRatio, hours/24/(1+nights))
		}
	}
}

// WriteScored prints a cylinder in a line.
func WriteScored(w io.Writer, s Score) {
	h := s.Home
	fmt.Fprintf(w, "  seed %d: %.2f kg, %.0f g/day, lead %d, lasted %.0f d, booked on day %.0f; alarms", h.Seed, h.net/1000, h.rate, h.lead, float64(s.RunOut)/day, float64(s.Booked)/day)
	for _, a := range s.Alarms {
		fmt.Fprintf(w, " %s", when(a.minute).Format("2006-01-02T15:04"))
	}
	for _, l := range h.leaks {
		fmt.Fprintf(w, "; %s %.1f g/h from %s", l.kind, l.rate, when(float64(l.start)).Format("2006-01-02T15:04"))
	}
	fmt.Fprintf(w, "; sd %.0f g, grain %.0f g, every %d min; %s\n", h.scale.sd, h.scale.grain, h.scale.every, listed(s.Posts, 1))
}
