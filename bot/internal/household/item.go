package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
)

// item is what is remembered of one cylinder.
type item struct {
	cfg *Cylinder
	fc  *forecast.Cylinder

	heard    time.Time // last time the scale said anything
	polled   bool      // the last weight came from a scale
	silent   bool      // its silence has been told
	filledAt time.Time // start of the present fill
	printed  unit.Grams

	refill  errand
	loss    *incident
	retest  time.Time  // last told
	weekGas [3]float64 // net gas at the last statuses, newest first; NaN unknown
	changed []string   // for the next weekly status
}

// errand is where getting the refill stands.
type errand struct {
	first   string    // key of the first reminder of this fill
	again   int       // reminders since
	next    time.Time // not before
	booked  time.Time
	asked   time.Time // when the booked day passed without a fill seen
	carrier string
}

// incident is a loss being told.
type incident struct {
	finding  forecast.Finding
	key      string
	again    int
	next     time.Time // of the next repeat; zero: none
	answered bool
	nagged   int
}

func newItem(c *Cylinder) *item {
	nan := math.NaN()
	return &item{cfg: c, fc: forecast.New(c.Forecast), weekGas: [3]float64{nan, nan, nan}}
}

// wake is when the item next needs a moment of its own.
func (it *item) wake() time.Time {
	var next time.Time
	if it.polled && !it.silent && it.cfg.SilentAfter > 0 {
		next = it.heard.Add(it.cfg.SilentAfter)
	}
	if it.loss != nil && !it.loss.answered {
		next = earlier(next, it.loss.next)
	}
	return next
}

// wakeItem does what wake announced.
func (e *Engine) wakeItem(it *item) {
	at := it.wake()
	if at.IsZero() || at.After(e.now) {
		return
	}
	if it.loss != nil && !it.loss.answered && !it.loss.next.After(e.now) && !it.loss.next.IsZero() {
		e.repeat(it)
		return
	}
	it.silent = true
	e.say(e.opt.Voice.Silent(e.situation(it), it.heard, "", e.key(it, notice.ScaleSilent, it.heard)))
}

// weigh feeds a reading and acts on what it revealed.
func (e *Engine) weigh(it *item, w forecast.Weighing) {
	if it.filledAt.IsZero() {
		it.filledAt = w.At
	}
	if !w.Manual || !it.polled {
		it.heard = w.At
		it.polled = !w.Manual
		it.silent = false
	}
	fresh := false
	for _, f := range it.fc.Weigh(w) {
		e.found(it, f)
		fresh = true
	}
	if w.Manual || fresh {
		e.daily(it)
	}
}

// found turns a finding into a notice, or into nothing.
func (e *Engine) found(it *item, f forecast.Finding) {
	s := e.situation(it)
	switch f.Kind {
	case forecast.AbruptLoss, forecast.SlowLoss:
		e.leak(it, f)
	case forecast.LossStopped:
		e.stopped(it, f)
	case forecast.FillSeen:
		e.filled(it, f)
	default:
		if n, ok := e.opt.Voice.Odd(s, f, e.key(it, notice.OddReading, f.At)+"/"+oddName(f.Kind)); ok {
			e.say(n)
		}
	}
}

func oddName(k forecast.FindingKind) string {
	return map[forecast.FindingKind]string{
		forecast.Lifted: "lifted", forecast.ObjectOn: "object", forecast.ZeroStep: "step", forecast.Stuck: "stuck",
		forecast.TemperatureDrift: "drift", forecast.WrongUnit: "unit", forecast.Implausible: "implausible",
	}[k]
}

// filled begins a new fill.
func (e *Engine) filled(it *item, f forecast.Finding) {
	e.restart(it, f.At)
	n := e.opt.Voice.Filled(e.situation(it), f.Mass, f.MassSD, it.printed, e.key(it, notice.FillSeen, f.At))
	e.say(n)
	it.printed = 0
}

// restart forgets what belonged to the fill before.
func (e *Engine) restart(it *item, at time.Time) {
	it.filledAt = at
	it.refill = errand{}
	it.loss = nil
	it.weekGas = [3]float64{math.NaN(), math.NaN(), math.NaN()}
}

// weekly takes stock of every cylinder that has been weighed, and, aloud, says how things stand.
func (e *Engine) weekly(due time.Time, aloud bool) {
	for _, it := range e.items {
		s := e.situation(it)
		if !s.Outlook.Known {
			continue
		}
		copy(it.weekGas[1:], it.weekGas[:])
		it.weekGas[0] = s.Outlook.Gas.Mean
		s.Week, s.WeekPrev = unit.Grams(it.weekGas[1]-it.weekGas[0]), unit.Grams(it.weekGas[2]-it.weekGas[1])
		if !aloud {
			continue
		}
		s.Changed, it.changed = it.changed, nil
		e.say(e.opt.Voice.Status(s, e.key(it, notice.WeeklyStatus, due)))
	}
}

// Situation is what there is to tell about a cylinder (empty name: the first) at now, which must not lie
// before Now. ok is false for a name that is not there.
func (e *Engine) Situation(cylinder string, now time.Time) (s notice.Situation, ok bool) {
	it := e.item(cylinder)
	if it == nil {
		return s, false
	}
	if now.Before(e.now) {
		now = e.now
	}
	return e.at(it, now), true
}

func (e *Engine) situation(it *item) notice.Situation { return e.at(it, e.now) }

func (e *Engine) at(it *item, now time.Time) notice.Situation {
	nan := unit.Grams(math.NaN())
	s := notice.Situation{
		Cylinder: it.cfg.Name, Named: len(e.items) > 1, Now: now, Outlook: it.fc.Outlook(now),
		Guess: it.cfg.Forecast.UsePrior > 0, GramsPerLitre: it.cfg.GramsPerLitre,
		Booked: it.refill.booked, Carrier: it.refill.carrier, LeadDays: e.opt.Refill.LeadDays,
		GrossEmpty: it.cfg.Forecast.Tare, GrossFull: it.cfg.Forecast.Tare + it.cfg.Forecast.NetFill,
		Week: nan, WeekPrev: nan, History: it.fc.Days(), Filled: it.filledAt,
	}
	if s.Outlook.Known {
		s.LastGross = it.cfg.Forecast.Tare + it.cfg.Forecast.Fittings + unit.Grams(s.Outlook.Gas.Mean)
	}
	if it.silent || (!it.polled && now.Sub(s.Outlook.LastSeen) > 21*24*time.Hour) {
		s.Silent = s.Outlook.LastSeen
	}
	plan := e.plan(s.Outlook)
	s.BookBy, s.Due, s.Arrives = plan.BookBy, plan.Due, plan.Earliest
	return s
}

// Doubtful reports that the last reading of a cylinder stands out: poll again at once.
func (e *Engine) Doubtful(cylinder string) bool {
	it := e.item(cylinder)
	return it != nil && it.fc.Doubtful()
}
