package trial

import "math"

// Laws are all of them. Nothing in them is measured, but for series.
var Laws = []Law{
	{Name: "plain", About: "meals, a habit of the week, wandering, parties, holidays", habits: plain},
	{Name: "weekend", About: "little but from Friday to Sunday", habits: weekend},
	{Name: "season", About: "a strong year", habits: season},
	{Name: "series", About: "the days of real homes' water and electricity", habits: realDays},
	{Name: "shifts", About: "weeks of days and weeks of nights", habits: shifts},
	{Name: "students", About: "terms, wild weeks of exams, empty breaks", habits: students},
	{Name: "bar", About: "a café that serves until three", rate: [2]float64{300, 2000}, nets: []float64{10_000, 22_680, 30_000}, habits: bar},
	{Name: "keg", About: "a keg filled in ten minutes once a week", rate: [2]float64{9, 24}, habits: keg},
	{Name: "owls", About: "drinks around midnight", habits: owls},
	{Name: "baby", About: "a family with a baby: at all hours", habits: baby},
	{Name: "club", About: "four hours once a week", habits: club},
	{Name: "growing", About: "ever more people", habits: growing},
	{Name: "holiday", About: "a flat used on some weekends", rate: [2]float64{8, 40}, habits: holidayFlat},
	{Name: "single", About: "a soda maker for one", rate: [2]float64{3, 6}, nets: []float64{400, 425}, sharp: true, habits: plain},
	{Name: "heavy", About: "a big family that drinks nothing else", rate: [2]float64{200, 500}, nets: []float64{9_070, 10_000, 22_680, 30_000}, habits: plain},
	{Name: "new-toy", About: "four times the use in the first two weeks", habits: newToy},
}

// weekly is a habit of the week with mean 1, Monday first.
func weekly(work, free func() float64) func(int) float64 {
	var w [7]float64
	sum := 0.0
	for i := range w {
		w[i] = work()
		if i >= 5 {
			w[i] = free()
		}
		sum += w[i] / 7
	}
	return func(d int) float64 { return w[d%7] / sum }
}

func plain(h *Home, r chance) habits {
	week := weekly(func() float64 { return r.between(0.7, 1.3) }, func() float64 { return r.between(0.8, 2) })
	return swung(h, r, week, r.between(0, 0.35))
}

// swung is an ordinary household with a habit of the week and a year of its own.
func swung(h *Home, r chance, week func(int) float64, season float64) habits {
	phase := r.between(0, 2*math.Pi)
	b := habits{hour: mealtimes(r), away: 0.006, party: 0.01, most: 3}
	b.level = func(d int) float64 { return week(d) * math.Exp(season*math.Sin(2*math.Pi*float64(d)/365+phase)) }
	if h.trouble {
		b.party = 0.03
	}
	b.steps = steps(h, r)
	return b
}

// steps are the lasting changes of an ordinary household: one in 400 days.
func steps(h *Home, r chance) (out []struct{ from, by float64 }) {
	days := float64(h.end) / day
	for range r.poisson(days / 400) {
		by := r.between(0.5, 0.8)
		if r.happens(0.5) {
			by = r.between(1.25, 1.8)
		}
		out = append(out, struct{ from, by float64 }{r.between(0, days), by})
	}
	return out
}

func weekend(h *Home, r chance) habits {
	w := []float64{r.between(0, 0.3), r.between(0, 0.3), r.between(0, 0.3), r.between(0, 0.3), r.between(1, 2), r.between(2, 4), r.between(1, 3)}
	sum := 0.0
	for _, x := range w {
		sum += x / 7
	}
	return swung(h, r, func(d int) float64 { return w[d%7] / sum }, r.between(0, 0.35))
}

func season(h *Home, r chance) habits {
	b := plain(h, r)
	week := weekly(func() float64 { return r.between(0.7, 1.3) }, func() float64 { return r.between(0.8, 2) })
	s := swung(h, r, week, r.between(0.6, 0.9))
	s.steps = b.steps
	return s
}

// realDays follows a real home, from a day of its record on, round and round.
func realDays(h *Home, r chance) habits {
	days := h.series[r.IntN(len(h.series))]
	off := r.IntN(len(days))
	return habits{level: func(d int) float64 { return days[(off+d)%len(days)] }, hour: mealtimes(r), wander: [2]float64{1e-9, 1e-9}, party: 0.01}
}

// shifts: every one to three weeks the nights become days.
func shifts(h *Home, r chance) habits {
	weeks := 1 + r.IntN(3)
	home, nights := mealtimes(r), r.between(0.7, 1.3)
	night := func(d int) bool { return d/7/weeks%2 == 1 }
	return habits{away: 0.006, party: 0.005, steps: steps(h, r),
		level: func(d int) float64 {
			if night(d) {
				return nights
			}
			return 2 - nights
		},
		hour: func(d int) float64 {
			if !night(d) {
				return home(d)
			}
			return oneOf(r, r.normal(16, 1.5), r.normal(21, 1), r.between(23, 30), r.normal(28, 1))
		}}
}

// students: terms of 15 weeks, two to four of exams, then seven weeks with hardly anybody there.
func students(_ *Home, r chance) habits {
	phase, exams, wild := r.IntN(182), 14+r.IntN(15), r.between(1.8, 3)
	home := mealtimes(r)
	when := func(d int) int { return (d + phase) % 182 }
	return habits{party: 0.04, wander: [2]float64{0.2, 0.5},
		level: func(d int) float64 {
			switch w := when(d); {
			case w < 105:
				return 1.1
			case w < 105+exams:
				return wild
			}
			if r.happens(0.8) {
				return 0
			}
			return 0.4
		},
		hour: func(d int) float64 {
			if w := when(d); w >= 105 && w < 105+exams {
				return r.between(9, 29)
			}
			return home(d)
		}}
}

func bar(_ *Home, r chance) habits {
	closed, peak, open := r.IntN(3), r.between(1.5, 2.5), r.between(15, 18)
	return habits{away: 0.002, wander: [2]float64{0.05, 0.2},
		level: func(d int) float64 {
			switch d % 7 {
			case closed:
				return 0
			case 4, 5:
				return 7 * peak / (4 + 2*peak)
			}
			return 7 / (4 + 2*peak)
		},
		hour: func(int) float64 { return min(max(r.normal(22, 2.2), open), 27) }}
}

func keg(h *Home, r chance) habits {
	on, little, home := r.IntN(7), r.between(0.02, 0.12), mealtimes(r)
	h.serving = r.between(4, 6)
	return habits{away: 0.004,
		level: func(int) float64 { return little },
		hour:  home,
		burst: func(d int) (out []draw) {
			if d%7 != on || r.happens(0.1) {
				return nil
			}
			at, n := clock(d, r.between(10, 21)), min(max(7*h.rate*r.between(0.8, 1.2), 60), 150)/10
			for i := range 10 {
				out = append(out, draw{at + i, n})
			}
			return out
		}}
}

func owls(h *Home, r chance) habits {
	return habits{away: 0.006, party: 0.01, steps: steps(h, r), level: weekly(func() float64 { return 1 }, func() float64 { return r.between(1, 1.8) }),
		hour: func(int) float64 { return oneOf(r, r.normal(15, 2), r.normal(23, 1.5), r.normal(25.5, 1.5)) }}
}

func baby(h *Home, r chance) habits {
	return habits{away: 0.003, steps: steps(h, r), level: func(int) float64 { return 1 }, hour: func(int) float64 { return r.between(0, 24) }}
}

func club(_ *Home, r chance) habits {
	on, pause := r.IntN(7), r.IntN(365)
	return habits{
		level: func(d int) float64 {
			if d%7 != on || (d+pause)%365 < 35 || r.happens(0.04) {
				return 0
			}
			return 7.7
		},
		hour: func(int) float64 { return r.between(18, 22) }}
}

func growing(h *Home, r chance) habits {
	b := plain(h, r)
	was, rate, level := r.between(0.4, 0.7), r.between(0.6, 1.2), b.level
	b.level = func(d int) float64 { return level(d) * min(was*math.Exp(rate*float64(d)/365), 2.5) }
	return b
}

func holidayFlat(_ *Home, r chance) habits {
	there, p := false, r.between(0.25, 0.6)
	home := mealtimes(r)
	return habits{
		level: func(d int) float64 {
			if d%7 == 4 {
				there = r.happens(p)
			}
			if !there || d%7 < 4 {
				return 0
			}
			return 7 / (3 * p)
		},
		hour: func(d int) float64 {
			if d%7 == 4 {
				return r.between(18, 24)
			}
			return home(d)
		}}
}

func newToy(h *Home, r chance) habits {
	b := plain(h, r)
	level := b.level
	b.most = 0
	b.level = func(d int) float64 { return level(d) * (1 + 3*math.Exp(-float64(max(0, d-14))/3)) }
	return b
}
