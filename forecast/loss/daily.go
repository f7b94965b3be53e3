package loss

import (
	"math"
	"time"
)

// daily follows the fall from night to night. A loss of g must show there as 24 g a day more; that the
// household drinks more shows there too, so whole days can refute a loss or support it a little, not prove it.
type daily struct {
	mean, variance float64 // g/day, (g/day)²
	n              float64
	falls          [mostOnsets]float64 // of the days, a ring
	days           int                 // ever
	level          float64             // of the last night
	at             time.Time
	known          bool
}

const (
	dailySpread = 25.0 // g/day, before anything is known
	dailyMemory = 30.0 // days
	usualWander = 0.3  // share of the use by which a household's level wanders
	wanderDays  = 20.0 // days, how fast
	mostSupport = 1.0  // evidence that days may add
	mostKnown   = 2.5  // by how much days that could refute a loss may lower the threshold
	leastNights = 4.2  // evidence wanted all the same
	leastUse    = 3.0  // g/day: who draws less has not begun
)

// next takes the night that has ended; ok reports that it tells what a day without a believed loss took.
func (d *daily) next(s *slope, losing bool) (ok bool) {
	level, at := (s.sy-s.drawn)/s.n, s.from.Add(time.Duration(s.st/s.n*float64(time.Hour)))
	days := at.Sub(d.at).Hours() / 24
	if d.known && days > 0.7 && days < 4 {
		ok = !losing
	}
	if ok {
		d.learn((d.level - level) / days)
	}
	d.level, d.at, d.known = level, at, true
	return ok
}

// usual is a fall as it counts: one day may not say everything, since guests may have come. What goes beyond three standard deviations from what is usual
// counts no more, but for what a loss of g, g/h, takes.
func (d *daily) usual(fell, g float64) float64 {
	most := 3 * math.Sqrt(d.variance)
	return d.mean + max(-most, min(fell-d.mean, max(most, 24*g)))
}

func (d *daily) learn(fell float64) {
	d.falls[d.days%mostOnsets] = fell
	d.days++
	if d.n == 0 {
		d.mean, d.variance = math.Max(fell, 0), dailySpread*dailySpread
	} else {
		fell = d.usual(fell, 0)
	}
	d.n++
	w := 1 / math.Min(d.n+1, dailyMemory)
	e := fell - d.mean
	d.mean += w * e
	d.variance += w * (e*e - d.variance)
}

// speaks is what the days since an onset say of a loss of g, g/h: x g/day more than before went, with variance v. ok is false
// while they say nothing. The household's own level may have wandered meanwhile.
func (d *daily) speaks(c *onset, g float64) (x, v float64, ok bool) {
	n := float64(c.days)
	if n < 1 || d.n < 10 {
		return 0, 0, false
	}
	own := usualWander * math.Max(c.day, 0)
	v = d.variance/n + d.variance/math.Min(d.n, dailyMemory) + own*own*(1-math.Exp(-n/wanderDays))
	for i := range min(c.days, mostOnsets) {
		x += d.usual(d.falls[(d.days-1-i)%mostOnsets], g)
	}
	return x/n - c.day, v, true
}

// support is the evidence of days that fell by x more, with variance v, for a loss of g, g/h, as a log likelihood ratio of
// at most mostSupport; known is how much they would have said against it had there been none, at most mostKnown.
func support(x, v, g float64) (more, known float64) {
	shift := 24 * g
	more = (2*x*shift - shift*shift) / (2 * v)
	return math.Min(more, mostSupport), math.Min(shift*shift/(2*v), mostKnown)
}
