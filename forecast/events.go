package forecast

import (
	"time"

	"tarebell/forecast/loss"
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
	case Away:
		c.quiet.until(e.Until)
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
	if e.Tare > 0 {
		c.house = e.Tare + c.opt.Fittings
	}
	c.filter.Refilled(c.house)
	c.restart(e.At)
}

// answer uses what the household says had happened.
func (c *Cylinder) answer(e Event) {
	losing, _, _ := c.watch.Believed()
	switch {
	case e.Cause == WeUsedIt && losing:
		c.watch.Dismiss()
	case e.Cause == Moved && losing:
		f := c.watch.Sofar()
		c.filter.TakeOut(-f.Lost, f.LostSD, f.Since)
		c.watch.Dismiss()
	case e.Cause == Repaired && losing:
		f := c.watch.Sofar()
		c.watch.Repaired()
		c.found = append(c.found, Finding{
			Kind: LossStopped, At: e.At, Since: f.Since, Mass: f.Lost, MassSD: f.LostSD, Rate: f.Rate, RateSD: f.RateSD,
		})
	case (e.Cause == GasLost || e.Cause == WeUsedIt) && !losing:
		c.filter.Undo()
	}
	losing, _, _ = c.watch.Believed()
	c.filter.Suspect(losing)
}

// quiet knows when nobody draws.
type quiet struct {
	end    time.Time
	closed bool
}

func (q *quiet) until(t time.Time) { q.end = t }

func (q *quiet) at(t time.Time) bool { return q.closed || t.Before(q.end) }

var _ = loss.Found{}
var _ unit.Grams
