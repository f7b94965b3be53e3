package forecast

import (
	"cmp"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Apply takes a weighing, or what somebody did or said, and returns what it revealed, if anything. The slice is valid until the
// next call. Weighings must not go back in time; one that does, or that no scale of a household can show, is ignored. Made counts servings as in Options.
// Kinds that say nothing about the gas only let time pass.
func (c *Cylinder) Apply(e record.Event) []Finding {
	c.found = c.found[:0]
	if e.Kind == record.Weighed {
		c.weigh(e)
		return c.found
	}
	if e.At.After(c.last) {
		c.last = e.At
	}
	switch e.Kind {
	case record.Filled:
		c.filled(e)
	case record.Booked:
		c.filter.Expect(e.Day)
	case record.Unbooked:
		c.filter.Expect(time.Time{})
	case record.Made:
		c.est.Made(e.At, e.Count)
		c.watch.Made(e.At, e.Count)
	case record.RanDry:
		c.drainedDry(e.At)
		c.filter.RanDry()
		c.est.RanDry(e.At)
	case record.Away:
		c.quiet.until(e.Until)
		c.est.Away(e.At, e.Until)
	case record.Valve:
		c.quiet.closed = !e.Open
	case record.Answer:
		c.answer(e)
	}
	return c.found
}

// filled begins a new fill, with the tare of a swapped cylinder.
func (c *Cylinder) filled(e record.Event) {
	var swapped unit.Grams
	if e.Tare > 0 {
		swapped = e.Tare + c.opt.Fittings
		c.house = swapped
	}
	c.filter.Refilled(c.house, cmp.Or(e.Net, c.opt.NetFill))
	c.restart(e.At, e.Net, swapped)
}

// answer uses what the household says had happened: about the loss now believed, else about the last step.
func (c *Cylinder) answer(e record.Event) {
	f, losing := c.watch.Sofar()
	c.drain = drain{last: c.drain.last}
	switch {
	case losing && e.Cause == record.Used:
		c.est.Lost(f.Since, e.At, 0, 0)
		c.watch.Dismiss()
	case losing && e.Cause == record.Moved:
		c.est.Lost(f.Since, e.At, 0, 0)
		c.filter.TakeOut(-f.Lost, f.LostSD, f.Since)
		c.watch.Dismiss()
	case losing && e.Cause == record.Repaired:
		c.est.Lost(f.Since, e.At, f.Lost, f.LostSD)
		c.watch.Repaired()
		c.found = append(c.found, Finding{
			Kind: LossStopped, At: e.At, Since: f.Since, Mass: f.Lost, MassSD: f.LostSD, Rate: f.Rate, RateSD: f.RateSD,
		})
	case !losing && e.Cause == record.Moved:
		d, sd := c.filter.ShiftFell()
		if d != 0 { // it is there after all
			c.est.Lost(e.At, e.At, d, sd)
		}
	case !losing && (e.Cause == record.Lost || e.Cause == record.Used):
		c.stepWasGas(e)
	}
	c.settle()
}

// stepWasGas makes the last fall one of gas, lost or used.
func (c *Cylinder) stepWasGas(e record.Event) {
	since, d := c.filter.Undo(e.Cause == record.Used)
	switch {
	case d < 0 && e.Cause == record.Lost:
		c.est.Lost(since, e.At, -d, c.filter.SD())
	case d < 0:
		c.est.Lost(since, e.At, 0, 0)
	}
}

// quiet knows when nobody draws.
type quiet struct {
	end    time.Time
	closed bool
}

func (q *quiet) until(t time.Time) { q.end = t }

func (q *quiet) at(t time.Time) bool { return q.closed || t.Before(q.end) }
