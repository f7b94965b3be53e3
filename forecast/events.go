package forecast

import (
	"time"

	"tarebell/forecast/unit"
)

// Apply takes what somebody told.
func (c *Cylinder) Apply(e Event) []Finding {
	c.found = c.found[:0]
	if e.At.After(c.last) {
		c.last = e.At
	}
	switch e.Kind {
	case Filled:
		c.filled(e)
	case Made:
		c.est.Made(e.At, e.Count)
		c.watch.Made(e.At, e.Count)
	case RanDry:
		c.drainedDry(e.At)
		c.est.RanDry(e.At)
	case Away:
		c.quiet.until(e.Until)
		c.est.Away(e.At, e.Until)
	case ValveClosed:
		c.quiet.closed = true
	case ValveOpen:
		c.quiet.closed = false
	case Answer:
		c.answer(e)
	}
	return c.found
}

// filled begins a new fill, with the tare of a swapped cylinder.
func (c *Cylinder) filled(e Event) {
	var swapped unit.Grams
	if e.Tare > 0 {
		swapped = e.Tare + c.opt.Fittings
		c.house = swapped
	}
	c.filter.Refilled(c.house)
	c.restart(e.At, e.Net, swapped)
}

// answer uses what the household says had happened: about the loss now believed, else about the last step.
func (c *Cylinder) answer(e Event) {
	f, losing := c.watch.Sofar()
	c.drain = drain{last: c.drain.last}
	switch {
	case losing && e.Cause == WeUsedIt:
		c.est.Lost(f.Since, e.At, 0, 0)
		c.watch.Dismiss()
	case losing && e.Cause == Moved:
		c.est.Lost(f.Since, e.At, 0, 0)
		c.filter.TakeOut(-f.Lost, f.LostSD, f.Since)
		c.watch.Dismiss()
	case losing && e.Cause == Repaired:
		c.est.Lost(f.Since, e.At, f.Lost, f.LostSD)
		c.watch.Repaired()
		c.found = append(c.found, Finding{
			Kind: LossStopped, At: e.At, Since: f.Since, Mass: f.Lost, MassSD: f.LostSD, Rate: f.Rate, RateSD: f.RateSD,
		})
	case !losing && e.Cause == Moved && c.filter.ShiftFell():
	case !losing && (e.Cause == GasLost || e.Cause == WeUsedIt):
		c.stepWasGas(e)
	}
	c.settle()
}

// stepWasGas puts a fall that was taken for a step back into the stream, as use or as a loss.
func (c *Cylinder) stepWasGas(e Event) {
	since, d := c.filter.Undo()
	if d < 0 && e.Cause == GasLost {
		c.est.Lost(since, e.At, -d, c.filter.SD())
	}
}

// quiet knows when nobody draws.
type quiet struct {
	end    time.Time
	closed bool
}

func (q *quiet) until(t time.Time) { q.end = t }

func (q *quiet) at(t time.Time) bool { return q.closed || t.Before(q.end) }
