package forecast

import (
	"math"
	"time"

	"tarebell/forecast/estimate"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// odd is a typed weight that was probably not right, and what was believed of the gas before it.
type odd struct {
	at  time.Time
	net unit.Grams
	gas Normal
	has bool
}

// filling is the share of a net fill by which a typed weight must have risen to mean that gas was put in. Less may be a hose or a shoe on the scale.
const filling = 0.3

// typed takes a typed weight. What it means for the gas is the estimator's to judge; here it is told if it was a fill, and asked about if it is
// more likely wrong than right.
func (c *Cylinder) typed(w record.Event) {
	local := c.clock.read(w.At)
	net := w.Gross - c.house
	gas, known := c.before(w.At, net)
	if known && c.filledUp(net, gas) {
		since := w.At
		if c.odd.has {
			since = c.odd.at
		}
		c.found = append(c.found, Finding{
			Kind: FillSeen, At: w.At, Since: since, Before: c.seen, Mass: net, MassSD: c.NetSD(true), Gross: w.Gross,
		})
		c.restart(since, 0, 0)
	}
	level := c.est.Level(w.At)
	c.est.Observe(estimate.Observation{At: w.At, Gross: w.Gross, Manual: true})
	right := c.est.Right() >= 0.5
	if c.possible(net) {
		c.drained(w, net, level)
	}
	if right {
		c.drain.last = weighed{w.At, unit.Grams(c.est.State(w.At).Gas.Mean)}
	}
	if !right {
		c.ask(w, net, gas)
		if !c.since.IsZero() || !c.possible(net) {
			return
		}
	} else {
		c.odd.has = false
		c.days.add(local.day, net)
	}
	if c.since.IsZero() {
		c.since = w.At
	}
	c.seen = w.At
}

// before is the gas expected at a weighing of net, leaving out a weight that was asked about if this one agrees with it.
func (c *Cylinder) before(at time.Time, net unit.Grams) (gas Normal, known bool) {
	s := c.est.State(at)
	if c.odd.has && math.Abs(float64(net-c.odd.net)) < filling/3*float64(c.opt.NetFill) {
		return c.odd.gas, true
	}
	return Normal(s.Gas), s.Known && !c.seen.IsZero()
}

// filledUp reports that a net mass means a fill: it rose, and either to nearly full or for the second time.
func (c *Cylinder) filledUp(net unit.Grams, gas Normal) bool {
	fill := float64(c.opt.NetFill)
	rise := float64(net) - gas.Mean
	again := c.odd.has && math.Abs(float64(net-c.odd.net)) < filling/3*fill
	return rise > math.Max(filling*fill, 4*gas.SD) && c.possible(net) && (again || float64(net) > 0.9*fill)
}

// possible reports that a net mass lies between empty and full, within a tenth.
func (c *Cylinder) possible(net unit.Grams) bool {
	slack := 0.1 * c.opt.NetFill
	return net > -slack && net < c.opt.NetFill+slack
}

// ask tells of a typed weight that is probably wrong.
func (c *Cylinder) ask(w record.Event, net unit.Grams, gas Normal) {
	const inPounds = unit.GramsPerKilogram / unit.GramsPerPound
	kind := Implausible
	if !c.possible(net) && (c.possible(w.Gross*inPounds-c.house) || c.possible(w.Gross/inPounds-c.house)) {
		kind = WrongUnit
	}
	f := Finding{Kind: kind, At: w.At, Since: w.At, Before: c.seen, Gross: w.Gross}
	if c.possible(net) {
		f.Mass, f.MassSD = net-unit.Grams(gas.Mean), unit.Grams(gas.SD)
	}
	c.found = append(c.found, f)
	c.odd = odd{at: w.At, net: net, gas: gas, has: true}
}
