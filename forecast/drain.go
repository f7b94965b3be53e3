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

// likely is the same for what only raises the question, which the next weight must answer for sure, and for a cylinder that ran dry: it happens once a fill, and who
// is about to connect a full one should know that the last may have leaked.
const likely = 2

// drained takes a typed net weight that is possible, given the use known before it.
func (c *Cylinder) drained(w record.Event, net unit.Grams, level estimate.Level) {
	d := &c.drain
	scatter := unit.Grams(math.Sqrt2) * c.est.HandSD()
	switch {
	case d.told:
		c.drains(w, net, scatter)
	case d.from.at.IsZero():
		if more, bound := c.beyondUse(w.At, net, level, likely); more > bound {
			d.from, d.seen, d.level = d.last, weighed{w.At, net}, level
		}
	case !w.At.After(d.seen.at): // typed at the same moment: it tells nothing of what goes on
	case net > d.seen.net+surely*scatter: // what showed the fall was a slip
		d.from = weighed{}
	default:
		since := unit.Between(d.seen.at, w.At)
		use := d.level.Over(since)
		sd := math.Hypot(float64(scatter), use.SD)
		more := float64(d.seen.net-net) - use.Mean
		before := unit.Between(d.from.at, d.seen.at)
		if goingOn := float64(d.from.net-d.seen.net-d.level.Most(before, likely)) * float64(since/before); more > surely*sd {
			c.drainBegins(w, net, more/float64(since), sd/float64(since))
		} else if goingOn-more > surely*sd {
			d.from = weighed{}
		}
	}
}

// beyondUse is how much more gas is gone since the last weight than this household draws, at a net weight at a time, and z standard deviations of that: of what
// it may draw and of what two weights may be off. Without a weight before there is nothing to tell.
func (c *Cylinder) beyondUse(at time.Time, net unit.Grams, level estimate.Level, z float64) (more, bound unit.Grams) {
	last := c.drain.last
	if last.at.IsZero() || !at.After(last.at) {
		return 0, 0
	}
	days := unit.Between(last.at, at)
	use := unit.Grams(level.Over(days).Mean)
	scatter := math.Sqrt2 * c.est.HandSD()
	return last.net - net - use, unit.Grams(math.Hypot(float64(level.Most(days, z)-use), z*float64(scatter)))
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
	if more, bound := c.beyondUse(at, c.heel, c.est.Level(at), likely); c.manual && !d.told && more > bound && float64(more) < signal.Fastest*at.Sub(d.last.at).Hours() {
		c.found = append(c.found, Finding{Kind: AbruptLoss, At: at, Since: d.last.at, Mass: more, MassSD: bound / likely})
	}
	*d = drain{}
}
