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
	level          float64 // of the last night
	at             time.Time
	known          bool
}

const (
	dailySpread = 25.0 // g/day, before anything is known
	dailyMemory = 30.0 // days
	usualWander = 0.3  // share of the use by which a household's level wanders
	wanderDays  = 20.0 // days, how fast
	mostSupport = 1.0  // evidence that days may add
	mostKnown   = 2.5  // by how much days that could refute a loss may lower the bar
	leastNights = 4.2  // evidence wanted all the same
	leastUse    = 3.0  // g/day: who draws less has not begun
)

// next takes the night that has ended and returns the fall since the last one, g/day.
func (d *daily) next(s *slope, losing bool) (fell float64, ok bool) {
	level, at := (s.sy-s.drawn)/s.n, s.from.Add(time.Duration(s.st/s.n*float64(time.Hour)))
	days := at.Sub(d.at).Hours() / 24
	if d.known && days > 0.7 && days < 4 {
		fell, ok = (d.level-level)/days, true
		if d.n > 0 { // one day may not say everything: guests may have come
			fell = d.mean + clipTo(fell-d.mean, 3*math.Sqrt(d.variance))
		}
		if !losing {
			d.learn(fell)
		}
	}
	d.level, d.at, d.known = level, at, true
	return fell, ok
}

func (d *daily) learn(fell float64) {
	if d.n == 0 {
		d.mean, d.variance = math.Max(fell, 0), dailySpread*dailySpread
	}
	d.n++
	w := 1 / math.Min(d.n+1, dailyMemory)
	e := fell - d.mean
	d.mean += w * e
	d.variance += w * (e*e - d.variance)
}

// speaks is what the days since an onset say of a loss: x g/day more than before went, with variance v. ok is false
// while they say nothing. The household's own level may have wandered meanwhile.
func (d *daily) speaks(c *onset) (x, v float64, ok bool) {
	n := float64(c.days)
	if n < 1 || d.n < 10 {
		return 0, 0, false
	}
	own := usualWander * math.Max(c.day, 0)
	v = d.variance/n + d.variance/math.Min(d.n, dailyMemory) + own*own*(1-math.Exp(-n/wanderDays))
	return c.fell/n - c.day, v, true
}

// support is the evidence of days that fell by x more, with variance v, for a loss of g, g/h, as a log likelihood ratio of
// at most mostSupport; known is how much they would have said against it had there been none, at most mostKnown.
func support(x, v, g float64) (more, known float64) {
	shift := 24 * g
	more = (2*x*shift - shift*shift) / (2 * v)
	return math.Min(more, mostSupport), math.Min(shift*shift/(2*v), mostKnown)
}
