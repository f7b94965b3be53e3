package trial

import "math"

// Laws are all of them. Only series is measured.
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
	{Name: "holiday", About: "a flat used on some weekends", rate: [2]float64{3, 25}, habits: holidayFlat},
	{Name: "single", About: "a soda maker for one", rate: [2]float64{3, 6}, nets: []float64{400, 425}, sharp: true, habits: alone},
	{Name: "heavy", About: "a big family that drinks nothing else", rate: [2]float64{200, 500}, nets: []float64{9_070, 10_000, 22_680, 30_000}, habits: plain},
	{Name: "office", About: "working hours, nobody at weekends", habits: office},
	{Name: "fortnight", About: "the children are there every other week", habits: fortnight},
	{Name: "summer", About: "a garden, shut for five months", habits: summer},
	{Name: "feasts", About: "one evening in four weeks", rate: [2]float64{3, 25}, habits: feasts},
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

func plain(h *Home, r rng) habits {
	week := weekly(func() float64 { return r.between(0.7, 1.3) }, func() float64 { return r.between(0.8, 2) })
	return swung(h, r, week, r.between(0, 0.35))
}

// swung is an ordinary household with a habit of the week and a year of its own. One cylinder's life has no year.
func swung(h *Home, r rng, week func(int) float64, season float64) habits {
	phase := r.between(0, 2*math.Pi)
	b := habits{hour: mealtimes(r), away: 0.006, party: 0.01, most: 3}
	if h.Single {
		b.away, b.party, b.most = 0.004, 0.008, 0
		if season < 0.5 {
			season = 0
		}
	}
	if h.Family == Trouble {
		b.party = 0.03
	}
	b.level = func(d int) float64 { return week(d) * math.Exp(season*math.Sin(2*math.Pi*float64(d)/365+phase)) }
	b.steps = steps(h, r)
	return b
}

// steps are the lasting changes of an ordinary household: one in 400 days; in one cylinder's life at most one.
func steps(h *Home, r rng) (out []change) {
	by := func() float64 { return oneOf(r, r.between(0.5, 0.8), r.between(1.25, 1.8)) }
	if h.Single {
		if r.happens(0.3) || h.Family == Trouble && r.happens(0.7) {
			return []change{{r.between(0.2, 0.8) * h.net / h.rate, by()}}
		}
		return nil
	}
	days := float64(h.end) / day
	for range r.poisson(days / 400) {
		out = append(out, change{r.between(0, days), by()})
	}
	return out
}

func alone(h *Home, r rng) habits {
	b := plain(h, r)
	b.party = 0
	return b
}

func weekend(h *Home, r rng) habits {
	w := []float64{r.between(0, 0.3), r.between(0, 0.3), r.between(0, 0.3), r.between(0, 0.3), r.between(1, 2), r.between(2, 4), r.between(1, 3)}
	sum := 0.0
	for _, x := range w {
		sum += x / 7
	}
	return swung(h, r, func(d int) float64 { return w[d%7] / sum }, r.between(0, 0.35))
}

func season(h *Home, r rng) habits {
	return swung(h, r, weekly(func() float64 { return r.between(0.7, 1.3) }, func() float64 { return r.between(0.8, 2) }), r.between(0.6, 0.9))
}

// realDays follows a real home, from a day of its record on, round and round.
func realDays(h *Home, r rng) habits {
	days := h.series[r.IntN(len(h.series))]
	off := r.IntN(len(days))
	return habits{level: func(d int) float64 { return days[(off+d)%len(days)] }, hour: mealtimes(r), wander: [2]float64{1e-9, 1e-9}, party: 0.01}
}
