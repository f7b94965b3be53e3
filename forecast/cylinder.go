package forecast

import (
	"time"

	"tarebell/forecast/signal"
	"tarebell/forecast/unit"
)

// Cylinder is the running judgement. It uses constant memory. Feed it in order of time.
type Cylinder struct {
	opt    Options
	house  unit.Grams // gross of the empty cylinder
	filter *signal.Filter
	est    interim
	last   time.Time
	since  time.Time
	seen   time.Time
	found  []Finding
	doubt  bool
}

// New starts a judgement that has seen nothing.
func New(o Options) *Cylinder {
	o = o.withDefaults()
	c := &Cylinder{opt: o, house: o.Tare + o.Fittings, found: make([]Finding, 0, 8)}
	c.filter = signal.New(signal.Options{House: c.house, NetFill: o.NetFill})
	c.est.prior = float64(o.UsePrior)
	return c
}

// Weigh takes one reading and returns what it revealed, if anything. The slice is valid until the next call.
// Readings must not go back in time; one that does is ignored.
func (c *Cylinder) Weigh(w Weighing) []Finding {
	c.found = c.found[:0]
	if w.At.Before(c.last) {
		return c.found
	}
	c.last = w.At
	out := c.filter.Next(signal.Reading{At: w.At, Gross: w.Gross, Temp: w.Temp, HasTemp: w.HasTemp, Manual: w.Manual})
	c.doubt = out.Doubtful
	for _, f := range out.Found {
		c.note(w.At, f)
	}
	for _, v := range out.Vetted {
		if c.since.IsZero() {
			c.since = v.At
		}
		c.seen = v.At
		c.est.observe(v.At, float64(v.Gross-c.house))
	}
	return c.found
}

// note passes on what the filter recognised.
func (c *Cylinder) note(at time.Time, f signal.Found) {
	kinds := [...]FindingKind{Lifted, Returned, ObjectOn, ObjectOff, ZeroStep, FillSeen, Stuck, TemperatureDrift, WrongUnit, Implausible}
	c.found = append(c.found, Finding{Kind: kinds[f.Kind], At: at, Since: f.Since, Mass: f.Mass, MassSD: f.SD, Gross: f.Gross})
	if f.Kind == signal.Fill {
		c.restart(at)
	}
}

// restart begins a new fill.
func (c *Cylinder) restart(at time.Time) {
	c.since = at
	c.est.restart()
}

// Apply takes what somebody told.
func (c *Cylinder) Apply(e Event) []Finding {
	c.found = c.found[:0]
	switch e.Kind {
	case Filled:
		if e.Tare > 0 {
			c.house = e.Tare + c.opt.Fittings
		}
		c.restart(e.At)
	}
	return c.found
}

// Doubtful reports that the last reading stands out and has not been explained: a scale that can be polled
// should be polled again at once.
func (c *Cylinder) Doubtful() bool { return c.doubt }

// Outlook says what is known and expected at now, which must not lie before the last input.
func (c *Cylinder) Outlook(now time.Time) Outlook {
	heel, dry := c.opt.marks()
	o := Outlook{At: now, Known: !c.seen.IsZero(), Since: c.since, LastSeen: c.seen, Heel: heel, DryMass: dry}
	if o.Known {
		o.Gas, o.Use, o.Learned = c.est.state()
		o.LiquidDry = c.est.passage(now, float64(dry))
		o.RunOut = c.est.passage(now, float64(heel))
	}
	return o
}
