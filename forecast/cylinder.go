package forecast

import (
	"math"
	"time"

	"tarebell/forecast/demand"
	"tarebell/forecast/estimate"
	"tarebell/forecast/loss"
	"tarebell/forecast/signal"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Cylinder is the running judgement. It uses constant memory. Feed it in order of time, with Apply.
type Cylinder struct {
	opt    Options
	house  unit.Grams // gross of the empty cylinder
	filter *signal.Filter
	watch  *loss.Watch
	est    *estimate.Filter
	heel   unit.Grams
	dry    unit.Grams
	clock  clock
	days   days

	last  time.Time // of any input
	since time.Time // first weighing of this fill
	seen  time.Time // last usable weighing
	quiet quiet
	found []Finding

	shiftVar float64 // g², of the scale's zero, not told to the estimator yet

	doubt   bool      // the last reading is held back
	doubted time.Time // when that began
	puzzled time.Time // when a reading was last held back

	manual bool // the last weighing was typed
	odd    odd  // the last typed weight, if it was asked about
	drain  drain

	shown struct { // the fill that the scale showed last: how much gas was in the cylinder, and when
		gas float64 // g
		at  time.Time
	}
}

// New starts a judgement that has seen nothing.
func New(o Options) *Cylinder {
	o = o.withDefaults()
	c := &Cylinder{opt: o, house: o.Tare + o.Fittings, found: make([]Finding, 0, 8), clock: clock{loc: o.Location}}
	use := demand.New()
	c.filter = signal.New(signal.Options{House: c.house, NetFill: o.NetFill, Serving: o.Serving, Use: use})
	c.watch = loss.New(loss.Options{Use: use, Serving: o.Serving, Fill: o.NetFill, QuietFrom: o.Quiet.From.Hours(), QuietTo: o.Quiet.To.Hours()})
	c.heel, c.dry = o.marks()
	c.est = estimate.New(estimate.Options{
		House: c.house, NetFill: o.NetFill, Swapped: o.Swapped, Heel: c.heel, UsePrior: o.UsePrior, Serving: o.Serving,
		Location: o.Location, Seed: o.Seed,
	})
	return c
}

// weigh takes one reading. One that goes back in time, or that no scale of a household can show, is ignored.
func (c *Cylinder) weigh(w record.Event) {
	if g := w.Gross; w.At.Before(c.last) || !(g >= record.MinGross && g <= record.MaxGross) {
		return
	}
	c.last, c.manual = w.At, w.Origin == record.Manual
	if c.manual {
		c.typed(w)
		return
	}
	out := c.filter.Next(signal.Reading{
		At: w.At, Gross: w.Gross, Temp: w.Temp, HasTemp: w.HasTemp, Hour: c.clock.read(w.At).week(),
	})
	if out.Doubtful && !c.doubt && w.At.Sub(c.puzzled) > restedDoubt {
		c.doubted = w.At
	}
	if c.doubt = out.Doubtful; c.doubt {
		c.puzzled = w.At
	}
	for _, f := range out.Found {
		c.note(w.At, w.Gross, f)
	}
	if c.filter.Erratic() {
		return
	}
	n := len(c.found)
	for _, v := range out.Vetted {
		c.take(w, v)
	}
	if f, losing := c.watch.Sofar(); losing && len(c.found) > n { // readings that were held back may have come after the one that showed it
		last := &c.found[len(c.found)-1]
		last.Mass, last.MassSD, last.Rate, last.RateSD = f.Lost, f.LostSD, f.Rate, f.RateSD
	}
}

// take follows one vetted reading.
func (c *Cylinder) take(w record.Event, v signal.Vetted) {
	if c.since.IsZero() {
		c.since = v.At
	}
	c.seen = v.At
	local := c.clock.read(v.At)
	gross := v.Gross - v.Drift
	c.days.add(local.day, gross-c.house)
	c.shiftVar += float64(v.ShiftSD * v.ShiftSD)
	if v.Alone {
		c.shiftVar = 0
	}
	if !v.Beside {
		c.est.Observe(estimate.Observation{At: v.At, Gross: gross, SD: v.SD, StepSD: unit.Grams(math.Sqrt(c.shiftVar))})
		c.shiftVar = 0
	}
	f, ok := c.watch.Next(loss.Reading{
		At: v.At, Gross: v.Gross, SD: v.SD, Grain: v.Grain, Cell: v.Cell, Coef: v.Coef, StepSD: v.StepSD,
		Hour: local.week(), Quiet: c.quiet.at(v.At), Ended: v.Ended,
	})
	if ok {
		c.lose(w, v, f)
	} else if losing, rate, sd := c.watch.Believed(); losing {
		c.est.Losing(rate, sd)
	}
}

// lose passes on what the watch found.
func (c *Cylinder) lose(w record.Event, v signal.Vetted, f loss.Found) {
	kinds := [...]FindingKind{loss.Abrupt: AbruptLoss, loss.Slow: SlowLoss, loss.Worse: AbruptLoss, loss.Stopped: LossStopped}
	c.found = append(c.found, Finding{
		Kind: kinds[f.Kind], At: w.At, Since: f.Since, Mass: f.Lost, MassSD: f.LostSD, Rate: f.Rate, RateSD: f.RateSD,
		Gross: w.Gross,
	})
	if f.Use {
		f.Lost, f.LostSD = 0, 0
	}
	c.est.Lost(f.Since, v.At, f.Lost, f.LostSD)
	c.settle()
}

// settle tells the others whether gas is thought to be leaving.
func (c *Cylinder) settle() {
	losing, rate, sd := c.watch.Believed()
	c.filter.Suspect(losing)
	c.est.Losing(rate, sd)
}

// note passes on what the filter recognised.
func (c *Cylinder) note(at time.Time, gross unit.Grams, f signal.Found) {
	if f.Kind == signal.Emptied { // nothing can follow
		c.found = append(c.found, Finding{Kind: AbruptLoss, At: at, Since: f.Before, Mass: -f.Mass, MassSD: f.SD, Gross: gross})
		c.est.Lost(f.Before, f.Since, -f.Mass, f.SD)
		return
	}
	kinds := [...]FindingKind{
		signal.Lifted: Lifted, signal.Returned: Returned, signal.ObjectOn: ObjectOn, signal.ObjectOff: ObjectOff,
		signal.Step: ZeroStep, signal.Fill: FillSeen, signal.Stuck: Stuck, signal.TemperatureDrift: TemperatureDrift,
		signal.WrongUnit: WrongUnit, signal.Implausible: Implausible, signal.Anew: Rebased, signal.Fell: Fell, signal.FillGone: FillGone,
	}
	c.found = append(c.found, Finding{
		Kind: kinds[f.Kind], At: at, Since: f.Since, Before: f.Before, Mass: f.Mass, MassSD: f.SD, Gross: gross,
	})
	switch f.Kind {
	case signal.Fill:
		c.shown.gas, c.shown.at = c.est.State(at).Gas.Mean, f.Since
		found := &c.found[len(c.found)-1]
		found.Mass, found.MassSD = found.Mass+unit.Grams(c.shown.gas), c.NetSD(false)
		c.restart(f.Since, 0, 0)
	case signal.FillGone:
		days := at.Sub(c.shown.at).Hours() / 24
		c.restart(at, unit.Grams(max(c.shown.gas-c.est.State(at).Use.Mean*days, 1)), 0)
	case signal.Anew:
		c.shiftVar = 0
		c.restart(at, 0, c.filter.House())
	}
}

// restart begins a new fill of net mass net (0: not said) over house (0: the same).
func (c *Cylinder) restart(at time.Time, net, house unit.Grams) {
	c.since = time.Time{}
	c.drain = drain{}
	c.watch.Refilled()
	c.est.Filled(at, net, house)
	c.days.refilled()
	c.settle()
}

// Known reports whether any weighing has been believed.
func (c *Cylinder) Known() bool { return !c.seen.IsZero() }

// Doubtful reports that the last reading stands out and has not been explained.
func (c *Cylinder) Doubtful() bool { return c.doubt }

// Pace is how soon a scale that can be polled should be polled again.
type Pace int

// The paces.
const (
	Usual  Pace = iota // as ever
	Soon               // in a few minutes: they would tell whether a fall just seen goes on
	AtOnce             // the last reading is doubtful, or repeating it would tell whether it means a loss
)

// longestDoubt is how long a scale is polled more often because it stands out: one that is broken stays so.
const longestDoubt = time.Hour

// restedDoubt is how long a scale must have been without doubt for the next one to count as new.
const restedDoubt = 3 * time.Hour

// Pace says how soon the scale should be polled again.
func (c *Cylinder) Pace() Pace {
	switch {
	case c.doubt && c.last.Sub(c.doubted) < longestDoubt:
		return AtOnce
	case !c.manual && c.watch.Expectant():
		return Soon
	}
	return Usual
}

// Outlook says what is known and expected at now, which must not lie before the last input.
func (c *Cylinder) Outlook(now time.Time) Outlook {
	o := Outlook{At: now, Known: c.Known(), Since: c.since, LastSeen: c.seen, Heel: c.heel, DryMass: c.dry}
	if losing, rate, sd := c.watch.Believed(); losing {
		o.Loss = Normal{float64(rate), float64(sd)}
	}
	if o.Known {
		s := c.est.State(now)
		o.Gas, o.Use, o.Learned, o.Watched, o.Ended = Normal(s.Gas), Normal(s.Use), s.Learned, s.Watched, s.Ended
		o.LiquidDry, o.RunOut = c.est.Forecast(now, c.heel, c.dry)
		c.bound(&o)
	}
	return o
}

// bound keeps the middle of what is told within what the days remembered allow, unless gas is thought to be leaving. It is for those who draw much on few days: an evening
// tells how much, but not how seldom.
func (c *Cylinder) bound(o *Outlook) {
	least, most := c.days.lasts(o.Gas.Mean - float64(c.heel))
	median := float64(o.RunOut.Quantile(0.5))
	by := max(least, min(median, most)) / median
	if o.Loss.Mean > 0 || !(by > 0) || by == 1 || math.IsInf(by, 1) {
		return
	}
	leastDry, _ := c.days.lasts(o.Gas.Mean - float64(c.dry))
	o.LiquidDry, o.RunOut = o.LiquidDry.Times(by, unit.Days(leastDry)), o.RunOut.Times(by, unit.Days(least))
	o.Use = Normal{o.Use.Mean / by, o.Use.SD / by}
}
