package trial

import "math"

// shifts: every one to three weeks the nights become days.
func shifts(h *Home, r rng) habits {
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
func students(_ *Home, r rng) habits {
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

func bar(_ *Home, r rng) habits {
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

func keg(h *Home, r rng) habits {
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

func owls(h *Home, r rng) habits {
	return habits{away: 0.006, party: 0.01, steps: steps(h, r), level: weekly(func() float64 { return 1 }, func() float64 { return r.between(1, 1.8) }),
		hour: func(int) float64 { return oneOf(r, r.normal(15, 2), r.normal(23, 1.5), r.normal(25.5, 1.5)) }}
}

func baby(h *Home, r rng) habits {
	return habits{away: 0.003, steps: steps(h, r), level: func(int) float64 { return 1 }, hour: func(int) float64 { return r.between(0, 24) }}
}

func club(_ *Home, r rng) habits {
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

func growing(h *Home, r rng) habits {
	b := plain(h, r)
	was, rate, level := r.between(0.4, 0.7), r.between(0.6, 1.2), b.level
	b.level = func(d int) float64 { return level(d) * min(was*math.Exp(rate*float64(d)/365), 2.5) }
	return b
}

func holidayFlat(_ *Home, r rng) habits {
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

// office: the hours of work, and nobody at the weekend or in the weeks when it is closed.
func office(_ *Home, r rng) habits {
	closed := r.IntN(365)
	return habits{wander: [2]float64{0.05, 0.25},
		level: func(d int) float64 {
			if d%7 >= 5 || (d+closed)%182 < 12 {
				return 0
			}
			return 1.5
		},
		hour: func(int) float64 { return r.between(8, 17.5) }}
}

// fortnight: the children are there every other week.
func fortnight(h *Home, r rng) habits {
	b := plain(h, r)
	few, level := r.between(0.1, 0.5), b.level
	b.level = func(d int) float64 {
		if d/7%2 == 0 {
			return level(d) * few
		}
		return level(d) * (2 - few)
	}
	return b
}

// summer: a garden that nobody is in for five months of the year.
func summer(h *Home, r rng) habits {
	b := plain(h, r)
	shut, level := r.IntN(365), b.level
	b.level = func(d int) float64 {
		if (d+shut)%365 < 152 {
			return 0
		}
		return level(d) * 1.7
	}
	return b
}

// feasts: once in four weeks, at no day of the week, an evening takes all.
func feasts(_ *Home, r rng) habits {
	p := 1.0 / 28
	return habits{
		level: func(int) float64 {
			if r.happens(p) {
				return 1 / p
			}
			return 0
		},
		hour: func(int) float64 { return r.between(17, 24) }}
}

func newToy(h *Home, r rng) habits {
	b := plain(h, r)
	level := b.level
	b.most = 0
	b.level = func(d int) float64 { return level(d) * (1 + 3*math.Exp(-float64(max(0, d-14))/3)) }
	return b
}
