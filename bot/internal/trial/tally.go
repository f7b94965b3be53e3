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
	years, lived                       float64 // without a loss, and all
	left                               []float64
	none                               share
	worst, polls                       float64
	first, guessed                     share
	found                              map[string][]float64 // hours to the notice, by kind of loss
	lost                               map[string][]float64
	of                                 map[string]int
	slow                               share
	slowRatio                          []float64
}

// Scores are the figures of cylinders that were followed to their ends. Lower is better unless said.
//
//	qloss            mean quantile loss of the run-out, relative to the time it took; vs_maker: over that of the maker's arithmetic
//	ape50            median error of the median, relative to the time it took; ape_maker: of the maker's arithmetic
//	cover80 cover90  share of run-outs inside p10-p90 and p05-p95: should be 0.80 and 0.90
//	first80          share inside p10-p90 of what was said on days 1 to 21, guess80: with the household's own guess of its use
//	stockout         share that ended before a refill booked at the first reminder came; leftover_d: days left of the others, median
//	false_leaks      possible leaks told a year without one, false_danger: with that severity; asked: within two days of weight that really
//	                 left the platform, not counted; none: share of households without any; worst: of one household
//	polls            readings beyond the regular ones, a month
//	slow_found ...   share told; slow_h ...: hours until then; slow_g ...: grams lost by then, medians
//	shown_found      of the slow losses that quiet nights alone could show; shown_delay: days over those that nights would take, median
func Scores(scores []Score) []Figure {
	t := tally{found: map[string][]float64{}, lost: map[string][]float64{}, of: map[string]int{}}
	ended := 0
	for _, s := range scores {
		if s.RunOut != never {
			ended++
			t.add(s)
		}
	}
	out := []Figure{{"cylinders", float64(ended)}, {"endless", float64(len(scores) - ended)}, {"years", t.years}}
	if len(t.loss) > 0 {
		out = append(out, []Figure{{"forecasts", float64(len(t.loss))}, {"absent", float64(t.absent)}, {"qloss", mean(t.loss)}, {"vs_maker", mean(t.ours) / mean(t.makers)},
			{"ape50", median(t.ape)}, {"ape_maker", median(t.makersAPE)}, {"cover80", t.cover80.value()}, {"cover90", t.cover90.value()},
			{"first80", t.first.value()}, {"guess80", t.guessed.value()}, {"stockout", t.stockout.value()}, {"leftover_d", median(t.left)}}...)
	}
	out = append(out, []Figure{{"false_leaks", float64(t.falses) / t.years}, {"false_danger", float64(t.dangers) / t.years}, {"asked", float64(t.asked)},
		{"none", t.none.value()}, {"worst", t.worst}, {"polls", t.polls / t.lived / 12}}...)
	for _, k := range kinds {
		if n := t.of[k]; n > 0 {
			out = append(out, []Figure{{k, float64(n)}, {k + "_found", float64(len(t.found[k])) / float64(n)}, {k + "_h", median(t.found[k])}, {k + "_g", median(t.lost[k])}}...)
		}
	}
	if t.slow.of > 0 {
		out = append(out, []Figure{{"shown", float64(t.slow.of)}, {"shown_found", t.slow.value()}, {"shown_delay", median(t.slowRatio)}}...)
	}
	return out
}

func (t *tally) add(s Score) {
	lossAt := math.Inf(1)
	if len(s.Home.leaks) > 0 {
		lossAt = float64(s.Home.leaks[0].start)
	} else {
		t.forecasts(s)
	}
	t.lived += float64(s.RunOut) / day / 365.25
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
	t.none.add(falses == 0)
	t.worst = max(t.worst, float64(falses))
	t.polls += float64(s.Polls)
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
	fmt.Fprintf(w, "  %s; lasted %.0f d, booked on day %.0f; alarms", s.Home, float64(s.RunOut)/day, float64(s.Booked)/day)
	for _, a := range s.Alarms {
		fmt.Fprintf(w, " %s", when(a.minute).Format(moment))
	}
	for _, l := range s.Home.leaks {
		fmt.Fprintf(w, "; %s %.1f g/h from %s", l.kind, l.rate, when(float64(l.start)).Format(moment))
	}
	fmt.Fprintf(w, "; %s; said [p10 p50 p90] came", listed(s.Posts))
	for _, f := range s.Checks {
		fmt.Fprintf(w, " %.0f %.0f", []float64{f.q[1], f.q[3], f.q[5]}, f.days)
	}
	fmt.Fprintln(w)
}
