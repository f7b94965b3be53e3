package estimate

import (
	"math"
	"slices"
	"time"
)

const (
	quarterDay = 21600 // s: a quarter of a day
	dayShift   = 10800 // a household's day runs from 3 to 3 o'clock
	secondsDay = 86400
)

// pattern is how use spreads over the week and the day: weekday factors and quarters of the day (3-9, 9-15, 15-21, 21-3
// o'clock local), each with mean 1.
type pattern struct {
	day, dayVar [7]float64
	seen, used  [7]float64 // days of each weekday seen, and their use in all, g; both fade
	sq, dof     float64    // squared distances from the weekday's mean, g², and how many; both fade
	part        [4]float64
	sum         [4]float64 // days' worth of use seen in each quarter
}

// newPattern knows only that households sleep at night and are more at home at weekends.
func newPattern() pattern {
	p := pattern{sum: [4]float64{5, 8, 12, 5}}
	for i := range p.day {
		p.day[i], p.dayVar[i] = priorDay(i), weekSD*weekSD
	}
	p.normalise()
	return p
}

// priorDay is the factor of a weekday before anything is known.
func priorDay(day int) float64 {
	const days = 7 / (5 + 2*weekend)
	if d := time.Weekday(day); d == time.Saturday || d == time.Sunday {
		return weekend * days
	}
	return days
}

// slot is weekday and quarter at local second s of the Unix epoch, and when the quarter ends.
func slot(s float64) (day, part int, end float64) {
	k := math.Floor((s - dayShift) / quarterDay)
	d := math.Floor(k / 4)
	wd := int(math.Mod(d+4, 7)) // 1 January 1970 was a Thursday
	if wd < 0 {
		wd += 7
	}
	return wd, int(k - 4*d), (k+1)*quarterDay + dayShift
}

// weekends are the factors of a household that draws mostly at weekends: a quarter of the mean on other days. No source; until a weekend has been
// seen, nothing tells whether this is one.
var weekends = [7]float64{2.875, 0.25, 0.25, 0.25, 0.25, 0.25, 2.875}

// effective is ∫w dt in days over local seconds from to, with factors of the weekdays, and its relative variance.
func (p *pattern) effective(from, to float64, day *[7]float64) (w, relVar float64) {
	days := (to - from) / secondsDay
	if days <= 0 {
		return 0, 0
	}
	v := 0.0
	for s := from; s < to; {
		d, q, end := slot(s)
		end = min(end, to)
		part := p.part[q] * (end - s) / secondsDay
		w += part * day[d]
		v += part * p.dayVar[d]
		s = end
	}
	if w <= 0 {
		return 0, 0
	}
	return w, v / w / days
}

// weekMemory is for how many weeks a weekday is remembered: half a year, as seasons move holidays and hours. Ours.
const weekMemory = 26

// learnDay takes the use u, g, of one whole day of weekday d.
func (p *pattern) learnDay(d int, u float64) {
	const keep = 1 - 1.0/weekMemory
	if n := p.seen[d]; n > 0 {
		e := u - p.used[d]/n
		p.sq, p.dof = p.sq*(1-1.0/(7*weekMemory))+e*e*n/(n+1), p.dof*(1-1.0/(7*weekMemory))+1
	}
	p.seen[d], p.used[d] = p.seen[d]*keep+1, p.used[d]*keep+u
	p.weigh()
}

// weigh shrinks what was seen of each weekday towards the prior by how much weekdays differ here beyond what days scatter anyway: the
// empirical Bayes estimate of one-way data with unequal numbers (Morris 1983, Journal of the American Statistical Association 78, 47-55).
// The spread of the metered homes, weekSD, counts like one household's week.
func (p *pattern) weigh() {
	mean, _, least := p.week()
	if least == 0 || !(mean > 0) || p.dof < 7 {
		return
	}
	within := p.sq / p.dof / (mean * mean)
	between := 7 * weekSD * weekSD
	for d, n := range p.seen {
		e := p.used[d]/n/mean - priorDay(d)
		between += e*e - within/n
	}
	between = max(between/14, 1e-3)
	for d, n := range p.seen {
		b := between / (between + within/n)
		p.day[d] = max(priorDay(d)+b*(p.used[d]/n/mean-priorDay(d)), 0.02)
		p.dayVar[d] = (1-b)*between + 2e-5
	}
	p.normalise()
}

// level is the mean use of a day, g, with the standard deviation by which the level may be elsewhere, and φ, the variance of days about their weekday over that mean; ok
// if each weekday was seen twice, and the mean is known to a third.
func (p *pattern) level() (use Normal, phi float64, ok bool) {
	const twice, third = 1.9, 1.0 / 3 // what was seen has faded a little
	mean, share, least := p.week()
	if least < twice || p.dof < 7 {
		return use, 0, false
	}
	within := p.sq / p.dof
	sd := math.Sqrt(share * within)
	return Normal{mean, math.Hypot(sd, lawSD*mean)}, within / mean, sd < third*mean
}

// week is the mean of the weekdays seen, g, the share of the variance of a day that it has, and how often the one least seen was seen.
func (p *pattern) week() (mean, share, least float64) {
	least = slices.Min(p.seen[:])
	for d, n := range p.seen {
		if n > 0 {
			mean += p.used[d] / n / 7
			share += 1 / n / 49
		}
	}
	return mean, share, least
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
