package forecast

import (
	"time"

	"tarebell/forecast/loss"
	"tarebell/forecast/signal"
	"tarebell/forecast/unit"
)

// Cylinder is the running judgement. It uses constant memory. Feed it in order of time.
type Cylinder struct {
	opt    Options
	house  unit.Grams // gross of the empty cylinder
	filter *signal.Filter
	watch  *loss.Watch
	est    interim
	clock  clock
	days   days

	last  time.Time // of any input
	since time.Time // first weighing of this fill
	seen  time.Time // last usable weighing
	quiet quiet
	found []Finding
	doubt bool
}

// New starts a judgement that has seen nothing.
func New(o Options) *Cylinder {
	o = o.withDefaults()
	c := &Cylinder{opt: o, house: o.Tare + o.Fittings, found: make([]Finding, 0, 8), clock: clock{loc: o.Location}}
	c.filter = signal.New(signal.Options{House: c.house, NetFill: o.NetFill, Serving: o.Serving})
	c.watch = loss.New(loss.Options{Serving: o.Serving, Use: o.UsePrior})
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
	out := c.filter.Next(signal.Reading{
		At: w.At, Gross: w.Gross, Temp: w.Temp, HasTemp: w.HasTemp, Hour: c.clock.read(w.At).hour, Manual: w.Manual,
	})
	c.doubt = out.Doubtful
	for _, f := range out.Found {
		c.note(w.At, w.Gross, f)
	}
	for _, v := range out.Vetted {
		c.take(w, v)
	}
	return c.found
}

// take follows one vetted reading.
func (c *Cylinder) take(w Weighing, v signal.Vetted) {
	if c.since.IsZero() {
		c.since = v.At
	}
	c.seen = v.At
	local := c.clock.read(v.At)
	net := v.Gross - v.Drift - c.house
	c.days.add(local.day, net)
	c.est.observe(v.At, float64(net))
	if v.Manual {
		return
	}
	f, ok := c.watch.Next(loss.Reading{
		At: v.At, Gross: v.Gross, SD: v.SD, Grain: v.Grain, Cell: v.Cell, Coef: v.Coef, StepSD: v.StepSD,
		Hour: local.hour, Day: local.day, Free: local.free, Quiet: c.quiet.at(v.At),
	})
	if ok {
		c.lose(w, f)
	}
}

// lose passes on what the watch found.
func (c *Cylinder) lose(w Weighing, f loss.Found) {
	kinds := [...]FindingKind{loss.Abrupt: AbruptLoss, loss.Slow: SlowLoss, loss.Worse: AbruptLoss, loss.Stopped: LossStopped}
	c.found = append(c.found, Finding{
		Kind: kinds[f.Kind], At: w.At, Since: f.Since, Mass: f.Lost, MassSD: f.LostSD, Rate: f.Rate, RateSD: f.RateSD,
		Gross: w.Gross,
	})
	losing, _, _ := c.watch.Believed()
	c.filter.Suspect(losing)
}

// note passes on what the filter recognised.
func (c *Cylinder) note(at time.Time, gross unit.Grams, f signal.Found) {
	kinds := [...]FindingKind{
		signal.Lifted: Lifted, signal.Returned: Returned, signal.ObjectOn: ObjectOn, signal.ObjectOff: ObjectOff,
		signal.Step: ZeroStep, signal.Fill: FillSeen, signal.Stuck: Stuck, signal.TemperatureDrift: TemperatureDrift,
		signal.WrongUnit: WrongUnit, signal.Implausible: Implausible,
	}
	c.found = append(c.found, Finding{
		Kind: kinds[f.Kind], At: at, Since: f.Since, Mass: f.Mass, MassSD: f.SD, Gross: gross,
	})
	if f.Kind == signal.Fill {
		c.restart(at)
	}
}

// restart begins a new fill.
func (c *Cylinder) restart(at time.Time) {
	c.since = time.Time{}
	c.watch.Refilled()
	c.est.restart()
	c.days.refilled()
}

// Doubtful reports that the last reading stands out and has not been explained: a scale that can be polled
// should be polled again at once.
func (c *Cylinder) Doubtful() bool { return c.doubt }

// Outlook says what is known and expected at now, which must not lie before the last input.
func (c *Cylinder) Outlook(now time.Time) Outlook {
	heel, dry := c.opt.marks()
	o := Outlook{At: now, Known: !c.seen.IsZero(), Since: c.since, LastSeen: c.seen, Heel: heel, DryMass: dry}
	if losing, rate, sd := c.watch.Believed(); losing {
		o.Loss = Normal{float64(rate), float64(sd)}
	}
	if o.Known {
		o.Gas, o.Use, o.Learned = c.est.state()
		o.LiquidDry = c.est.passage(now, float64(dry))
		o.RunOut = c.est.passage(now, float64(heel))
	}
	return o
}
