package estimate

import (
	"math"
	"time"
)

const (
	quarter    = 21600 // s
	dayShift   = 10800 // a household's day runs from 3 to 3 o'clock
	secondsDay = 86400
)

// pattern is how use spreads over the week and the day: weekday factors and quarters of the day (3-9, 9-15, 15-21, 21-3
// o'clock local), each with mean 1.
type pattern struct {
	day, dayVar [7]float64
	part        [4]float64
	sum         [4]float64 // days' worth of use seen in each quarter
}

// newPattern knows only that households sleep at night and are more at home at weekends.
func newPattern() pattern {
	p := pattern{sum: [4]float64{5, 8, 12, 5}}
	for i := range p.day {
		p.day[i], p.dayVar[i] = 1, weekSD*weekSD
	}
	p.day[time.Saturday], p.day[time.Sunday] = weekend, weekend
	p.normalise()
	return p
}

// slot is weekday and quarter at local second s of the Unix epoch, and when the quarter ends.
func slot(s float64) (day, part int, end float64) {
	k := math.Floor((s - dayShift) / quarter)
	d := math.Floor(k / 4)
	wd := int(math.Mod(d+4, 7)) // 1 January 1970 was a Thursday
	if wd < 0 {
		wd += 7
	}
	return wd, int(k - 4*d), (k+1)*quarter + dayShift
}

// effective is ∫w dt in days over local seconds from to, and its relative variance.
func (p *pattern) effective(from, to float64) (w, relVar float64) {
	days := (to - from) / secondsDay
	if days <= 0 {
		return 0, 0
	}
	v := 0.0
	for s := from; s < to; {
		d, q, end := slot(s)
		end = min(end, to)
		part := p.part[q] * (end - s) / secondsDay
		w += part * p.day[d]
		v += part * p.dayVar[d]
		s = end
	}
	if w <= 0 {
		return 0, 0
	}
	return w, v / w / days
}

// learnDay takes the use u (g, variance uVar) of one whole day of weekday d, when level was expected on average.
func (p *pattern) learnDay(d int, u, uVar, level float64) {
	v := p.dayVar[d]
	e := u - level*p.day[d]
	s := level*level*v + uVar
	if e*e > 9*s {
		s = e * e / 9
	}
	k := level * v / s
	p.day[d] = max(p.day[d]+k*e, 0.02)
	p.dayVar[d] = max(v*(1-k*level), 0) + 2e-5
	p.normalise()
}

// learnPart takes the share (use over daily level) of one quarter.
func (p *pattern) learnPart(q int, share float64) {
	const keep = 1 - 1.0/400
	for i := range p.sum {
		p.sum[i] *= keep
	}
	p.sum[q] += max(min(share, 3), -1)
	p.normalise()
}

func (p *pattern) normalise() {
	sum := 0.0
	for _, d := range p.day {
		sum += d
	}
	for i := range p.day {
		p.day[i] *= 7 / sum
	}
	sum = 0
	for _, x := range p.sum {
		sum += max(x, 0.3)
	}
	for i, x := range p.sum {
		p.part[i] = 4 * max(x, 0.3) / sum
	}
}
