package forecast

import (
	"math"
	"time"

	"tarebell/forecast/estimate"
	"tarebell/forecast/loss"
	"tarebell/forecast/signal"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// weighed is a typed weight; the zero value is none.
type weighed struct {
	at  time.Time
	net unit.Grams
}

// drain watches typed weights for gas that leaves without being used. One interval in which more went than this household may have drawn raises the question; the
// next weight answers it: a slip is gone again, a valve that was shut meanwhile leaves the fall as it is, a loss goes on.
type drain struct {
	last  weighed        // the last weight that was believed, of this fill
	from  weighed        // the last weight before the fall in question; zero: there is none
	seen  weighed        // the first one that shows it
	level estimate.Level // of use, before
	told  bool           // the loss is believed
}

// surely is how many standard deviations of the scale a typed weight must be off to count as not its scatter.
const surely = 3

// drained takes a typed net weight that is possible, given the use known before it.
func (c *Cylinder) drained(w record.Event, net unit.Grams, level estimate.Level) {
	d := &c.drain
	scatter := unit.Grams(math.Sqrt2) * c.est.HandSD()
	switch {
	case d.told:
		c.drains(w, net, scatter)
	case d.from.at.IsZero():
		if c.beyondUse(w.At, net, level) {
			d.from, d.seen, d.level = d.last, weighed{w.At, net}, level
		}
	case net > d.seen.net+surely*scatter: // what showed the fall was a slip
		d.from = weighed{}
	default:
		since := unit.Between(d.seen.at, w.At)
		use := d.level.Over(since)
		sd := math.Hypot(float64(scatter), use.SD)
		more := float64(d.seen.net-net) - use.Mean
		before := unit.Between(d.from.at, d.seen.at)
		if goingOn := float64(d.from.net-d.seen.net-d.level.Most(before)) * float64(since/before); more > surely*sd {
			c.drainBegins(w, net, more/float64(since), sd/float64(since))
		} else if goingOn-more > surely*sd {
			d.from = weighed{}
		}
	}
}

// beyondUse reports that more gas went since the last weight than this household draws, at a net weight at a time.
func (c *Cylinder) beyondUse(at time.Time, net unit.Grams, level estimate.Level) bool {
	last := c.drain.last
	return !last.at.IsZero() && at.After(last.at) &&
		last.net-net > level.Most(unit.Between(last.at, at))+surely*unit.Grams(math.Sqrt2)*c.est.HandSD()
}

// drainBegins believes in a loss of rate g a day that goes on.
func (c *Cylinder) drainBegins(w record.Event, net unit.Grams, rate, sd float64) {
	d := &c.drain
	d.told = true
	days := unit.Between(d.from.at, w.At)
	use := d.level.Over(days)
	f := loss.Found{
		Kind: loss.Abrupt, Since: d.from.at,
		Lost:   d.from.net - net - unit.Grams(use.Mean),
		LostSD: unit.Grams(math.Hypot(use.SD, math.Sqrt2*float64(c.est.HandSD()))),
		Rate:   unit.GramsPerHour(rate / 24), RateSD: unit.GramsPerHour(sd / 24),
	}
	c.watch.Believe(w.At, f)
	c.lose(w, signal.Vetted{At: w.At}, f)
}

// drains follows a loss that is believed: it has stopped when at most half of what it would have taken is gone.
func (c *Cylinder) drains(w record.Event, net, scatter unit.Grams) {
	d := &c.drain
	losing, rate, _ := c.watch.Believed()
	days := unit.Between(d.last.at, w.At)
	use := d.level.Over(days)
	lost := float64(rate) * 24 * float64(days)
	if !losing || lost > 2*surely*math.Hypot(float64(scatter), use.SD) && float64(d.last.net-net)-use.Mean < lost/2 {
		if f, ok := c.watch.Sofar(); ok {
			c.watch.Repaired()
			f.Kind = loss.Stopped
			f.Lost = max(0, d.from.net-net-unit.Grams(d.level.Over(unit.Between(d.from.at, w.At)).Mean))
			c.lose(w, signal.Vetted{At: w.At}, f)
		}
		*d = drain{last: d.last}
	}
}

// drainedDry takes that the cylinder ran dry: what went since the last weight beyond any use was lost, and no more can follow.
func (c *Cylinder) drainedDry(at time.Time) {
	d := &c.drain
	if level := c.est.Level(at); c.manual && !d.told && c.beyondUse(at, c.heel, level) {
		use := level.Over(unit.Between(d.last.at, at))
		c.found = append(c.found, Finding{
			Kind: AbruptLoss, At: at, Since: d.last.at, Mass: d.last.net - c.heel - unit.Grams(use.Mean), MassSD: unit.Grams(use.SD),
		})
	}
	*d = drain{}
}
