package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/cost"
	"tarebell/forecast/refill"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// Situation is what there is to tell about a cylinder (empty name: the first) at now, which must not lie
// before Now. ok is false for a name that is not there.
func (e *Engine) Situation(cylinder string, now time.Time) (s notice.Situation, ok bool) {
	c := e.find(cylinder)
	if c == nil {
		return s, false
	}
	if now.Before(e.now) {
		now = e.now
	}
	return e.situation(c, now), true
}

// situation takes some milliseconds.
func (e *Engine) situation(c *cylinder, now time.Time) notice.Situation {
	o, nan := c.fc.Outlook(now), unit.Grams(math.NaN())
	s := notice.Situation{
		Place: e.placeOf(c, now),
		Content: notice.Content{Outlook: o, Guess: c.cfg.Forecast.UsePrior > 0, GramsPerLitre: e.servings.perLitre,
			GrossEmpty: c.tare, GrossFull: c.tare + c.nominal, House: c.tare + c.fittings,
			Doubted: c.scale.doubted, Dry: c.dryAt, Spare: c.waits, SpareNet: c.spareNet},
		Refill:  e.refill(c, o, now),
		Lately:  notice.Lately{Filled: c.began, History: c.fc.Days(), Losses: c.leaks.all(o), Week: nan, WeekPrev: nan, FillMost: c.mostUsed()},
		Fill:    c.present(),
		Answers: c.answers,
		Serving: e.servings.gas, Litres: e.servings.litres,
	}
	if o.Known && !o.LastSeen.Before(c.began) { // after a fill the first weight tells
		then, _, _ := c.fc.Level(o.LastSeen)
		s.LastGross = s.House + unit.Grams(then.Mean)
	}
	if c.scale.silence != "" || !c.scale.polled && stale(o, now) {
		s.Silent = o.LastSeen
	}
	return s
}

// stale reports that a typed weight is so old that another would help: after three weeks, after one when the gas may end
// within a month.
func stale(o forecast.Outlook, now time.Time) bool {
	age := unit.Between(o.LastSeen, now)
	return age > 21 || age > 7 && o.RunOut.Known() && o.RunOut.Quantile(0.1) < 30
}

// refill is how getting the refill of a cylinder stands.
func (e *Engine) refill(c *cylinder, o forecast.Outlook, now time.Time) notice.Refill {
	r, b := &c.errand, &c.errand.booking
	out := notice.Refill{Plan: e.supply.plan(o, e.spareFor(c)), Decision: c.decision, ActsIn: e.supply.delay(now).Median(),
		LeadDays: e.supply.lead.Median(), LeadBookings: len(e.supply.past), Booked: b.day, BookedBy: b.by, Revision: r.moves, Carrier: r.carrier,
		Turns: e.people.turns(now), Helpers: e.people.helpers(r.carrier, now), Supplier: e.supply.Supplier, Swap: e.supply.Swap}
	out.Closures = e.supply.closures(b.day, out.BookBy, now)
	if full := e.fullSpare(); full != nil && !c.waits {
		out.FullSpare = full.cfg.Name
	}
	if due := c.cfg.Retest; !due.IsZero() {
		out.RetestDue = due
		out.Retest = refill.Retest{Last: due.AddDate(-1, 0, 0), Years: 1}.On(e.supply.fillDay(b.day, out.BookBy, now))
	}
	return out
}

// Account is what the gas has cost so far, as of now.
func (e *Engine) Account(now time.Time) notice.Account {
	b := e.books()
	var use cost.Uncertain
	for i, c := range e.cylinders {
		o := c.fc.Outlook(now)
		present := c.asOf(o)
		b.fills[i] = present.history()
		if !c.waits && o.Learned {
			use.Mean, use.SD = use.Mean+o.Use.Mean, math.Hypot(use.SD, o.Use.SD)
		}
	}
	return b.account(now, use)
}

// Level is how much is in a cylinder at one moment.
type Level struct {
	Gas    forecast.Normal // net, g
	Seen   time.Time       // last usable weighing
	Filled time.Time       // start of the present fill
	Heel   unit.Grams
}

// Level is cheap beside Situation. ok is false for a name that is not there and before the first usable weighing. now must
// not lie before Now.
func (e *Engine) Level(cylinder string, now time.Time) (l Level, ok bool) {
	c := e.find(cylinder)
	if c == nil {
		return l, false
	}
	l.Gas, l.Seen, ok = c.fc.Level(now)
	l.Filled, l.Heel = c.began, c.fc.Heel()
	return l, ok
}

// Passage is the forecast, made at now, of the time until a cylinder holds no more than level.
func (e *Engine) Passage(cylinder string, now time.Time, level unit.Grams) runout.Distribution {
	if c := e.find(cylinder); c != nil {
		return c.fc.Passage(now, level)
	}
	return runout.Distribution{}
}

// Pace is how soon the scale of a cylinder should be read again.
func (e *Engine) Pace(cylinder string) forecast.Pace {
	if c := e.standingAt(cylinder); c != nil {
		return c.fc.Pace()
	}
	return forecast.Usual
}

// Trouble records why the scale of a cylinder could not be read, for the notice of its silence; "" when it could. It is
// forgotten on a restart: the next try tells again.
func (e *Engine) Trouble(cylinder, cause string) {
	if c := e.standingAt(cylinder); c != nil {
		c.scale.trouble = cause
	}
}
