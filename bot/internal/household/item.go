package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// item is what is remembered of one cylinder.
type item struct {
	cfg *Cylinder
	fc  *forecast.Cylinder

	heard    time.Time // last time the scale said anything
	polled   bool      // the last weight came from a scale
	silent   bool      // its silence has been told
	pauses   []Pause   `checkpoint:"-"` // see Paused
	mute     string    // key of that notice; empty: the scale is back
	trouble  string    `checkpoint:"-"` // why the last try to read the scale failed; empty: not known
	filledAt time.Time // start of the present fill

	spare   bool       // waits its turn
	full    bool       // and is full
	site    *Cylinder  // whose place it has, with scale, room and monitor, by the config; nil: it waits
	tare    unit.Grams // of the cylinder that stands there now
	fills   []fill     // the present one last
	gas     float64    // net gas at the last look; NaN unknown
	rest    unit.Grams // net gas of one that waits; 0 unknown
	heel    unit.Grams
	lost    unit.Grams // of the present fill
	checked checks
	doubted notice.Reading // the last reading, if it is not believed
	answers []notice.Answered

	refill   errand
	decision notice.Decision // of the last look
	sharp    float64         // sd of the gas, g, when a weight was last fresh; 0: never
	loss     *incident
	losses   []notice.Lost // that have ended, oldest first
	asides   []aside
	looked   time.Time // the last look at whether there is something to do
	dryAt    time.Time // when somebody said that it ran dry; zero: not of this fill
	monitor  monitor
	retest   time.Time  // last told
	weekGas  [3]float64 // net gas at the last statuses, newest first; NaN unknown
	changed  []string   // for the next weekly status
	told     notice.Told
}

// errand is where getting the refill stands.
type errand struct {
	first    string    // key of the first reminder of this fill
	again    int       // reminders since
	next     time.Time // not before
	booked   time.Time // the day; zero: not booked
	bookedBy string
	bookedAt time.Time // when it was booked, for the lead time
	moves    int       // of the booked day
	eve      bool      // the day before was told, or came too soon to be
	inquired bool      // whether the refill came, the booked day having passed
	carrier  string
	reminded time.Time // first, to book; zero: not yet
	acted    bool      // how long the booking took since is taken down
	asked    time.Time // for a weight that did not come yet; zero: for none
}

// incident is a loss being told.
type incident struct {
	finding  forecast.Finding
	begun    time.Time // when it was first told
	key      string
	again    int
	next     time.Time // of the next repeat; zero: none
	answered bool
	danger   bool // as last told
	nagged   int
}

func newItem(c *Cylinder) *item {
	nan := math.NaN()
	it := &item{cfg: c, fc: forecast.New(c.Forecast), weekGas: [3]float64{nan, nan, nan},
		spare: c.Spare, full: c.Spare, site: c, tare: c.Forecast.Tare, gas: nan}
	it.heel = it.fc.Outlook(time.Unix(0, 0)).Heel
	if it.spare {
		it.site, it.rest = nil, c.Forecast.NetFill
	}
	return it
}

// wake is when the item next needs a moment of its own.
func (it *item) wake() time.Time {
	next := it.nextAside()
	if s := it.site; s != nil && (it.polled || s.Scale) && !it.silent && s.SilentAfter > 0 && !it.heard.IsZero() {
		next = earlier(next, it.silentAt())
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
	if next := it.nextAside(); !next.IsZero() && !next.After(e.now) {
		e.tellAsides(it)
		return
	}
	it.silent = true
	last := it.heard
	if !it.polled {
		last = time.Time{} // it never answered at all
	}
	it.mute = e.key(it, notice.ScaleSilent, it.heard)
	e.say(e.opt.Voice.Silent(e.place(it), last, it.trouble, it.mute))
}

// heard takes down that a weight came in; that the scale is back is told if its silence was.
func (e *Engine) heard(it *item, w forecast.Weighing) {
	if it.silent && !w.Manual && it.mute != "" {
		e.say(e.opt.Voice.Heard(e.place(it), it.heard, it.mute+"/back", it.mute))
		it.mute = ""
	}
	it.heard, it.polled, it.silent = w.At, !w.Manual, false
	if !w.Manual {
		it.trouble = ""
	}
}

// Trouble takes down why the scale of a cylinder could not be read, for the notice of its silence; "" when it could. It is
// forgotten on a restart: the next try tells again.
func (e *Engine) Trouble(cylinder, cause string) {
	if it := e.onScale(cylinder); it != nil {
		it.trouble = cause
	}
}

// nextLook is how soon after a look another typed weight is worth one: several typed in a row are one weighing.
const nextLook = 10 * time.Minute

// weigh feeds a reading and acts on what it revealed.
func (e *Engine) weigh(it *item, w forecast.Weighing) {
	if it.spare {
		it.weighSpare(w)
		return
	}
	if it.filledAt.IsZero() {
		it.filledAt = w.At
		it.fills = append(it.fills, newFill(notice.Fill{Cylinder: it.cfg.Name, At: w.At, First: true}))
	}
	if !w.Manual || !it.polled && !it.site.Scale {
		e.heard(it, w)
	}
	if w.Manual && it.awaited(w) {
		e.cameByWeight(it, w)
	}
	fresh := false
	for _, f := range it.fc.Weigh(w) {
		if f.Kind == forecast.FillSeen && w.Manual { // the weight before is days old, and gas was drawn since
			f.Mass, f.MassSD = it.content(w), houseSD
		}
		e.found(it, f)
		fresh = true
	}
	it.doubted = notice.Reading{}
	if it.fc.Doubtful() {
		it.doubted = notice.Reading{At: w.At, Gross: w.Gross}
	} else {
		e.receive(it, w)
		e.brought(it, w.At)
	}
	if !it.fc.Known() { // an empty platform is no doubt, and no weight of the cylinder either
		it.doubted = notice.Reading{At: w.At, Gross: w.Gross}
	}
	it.checked.weighed(w)
	if fresh || w.Manual && e.now.Sub(it.looked) >= nextLook {
		e.daily(it)
	}
}

// found turns a finding into a notice, or into nothing.
func (e *Engine) found(it *item, f forecast.Finding) {
	if e.setAside(it, f) {
		return
	}
	switch f.Kind {
	case forecast.AbruptLoss, forecast.SlowLoss:
		e.leak(it, f)
	case forecast.LossStopped:
		e.stopped(it, f)
	case forecast.FillSeen:
		e.filled(it, f)
	default:
		e.odd(it, f)
	}
}

func oddName(k forecast.FindingKind) string {
	return map[forecast.FindingKind]string{
		forecast.Lifted: "lifted", forecast.ObjectOn: "object", forecast.ZeroStep: "step", forecast.Fell: "fell", forecast.Stuck: "stuck",
		forecast.TemperatureDrift: "drift", forecast.WrongUnit: "unit", forecast.Implausible: "implausible", forecast.Rebased: "rebased",
	}[k]
}

// weekly takes stock of every cylinder that has been weighed, and, aloud, says how things stand.
func (e *Engine) weekly(due time.Time, aloud bool) {
	for _, it := range e.items {
		s := e.situation(it)
		if it.spare || !s.Outlook.Known {
			continue
		}
		copy(it.weekGas[1:], it.weekGas[:])
		it.weekGas[0] = s.Outlook.Gas.Mean
		s.Week, s.WeekPrev = unit.Grams(it.weekGas[1]-it.weekGas[0]), unit.Grams(it.weekGas[2]-it.weekGas[1])
		if !aloud {
			continue
		}
		if d := e.decide(it, s, 7); d.Say == notice.WeighDue {
			it.refill.asked = e.now
		}
		s.Decision = it.decision
		s.Changed, it.changed, s.Before = it.changed, nil, it.told
		it.told = e.opt.Voice.Told(s)
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

// place is where and when something is told: all that a notice needs which does not speak of the forecast, whose
// making takes some milliseconds.
func (e *Engine) place(it *item) notice.Place {
	return notice.Place{Cylinder: it.cfg.Name, Named: len(e.items) > 1, Now: e.now}
}

func (e *Engine) at(it *item, now time.Time) notice.Situation {
	nan := unit.Grams(math.NaN())
	s := notice.Situation{
		Place: notice.Place{Cylinder: it.cfg.Name, Named: len(e.items) > 1, Now: now},
		Content: notice.Content{Outlook: it.fc.Outlook(now), Guess: it.cfg.Forecast.UsePrior > 0, GramsPerLitre: e.perLitre(it),
			GrossEmpty: it.tare, GrossFull: it.tare + it.cfg.Forecast.NetFill, House: it.tare + it.cfg.Forecast.Fittings,
			Doubted: it.doubted, Dry: it.dryAt, Spare: it.spare, Rest: it.rest},
		Refill: notice.Refill{Decision: it.decision, ActsIn: refill.LearnDelay(e.delays, now.In(e.opt.Zone)).Median(),
			LeadDays: e.lead.Median(), LeadBookings: len(e.past), Booked: it.refill.booked, BookedBy: it.refill.bookedBy,
			Revision: it.refill.moves, Carrier: it.refill.carrier},
		Lately: notice.Lately{Filled: it.filledAt, History: it.fc.Days(), Losses: it.allLosses(now), Week: nan, WeekPrev: nan},
		Fill:   it.present(), Answers: it.answers,
	}
	if s.Outlook.Known && !s.Outlook.LastSeen.Before(it.filledAt) { // after a fill the first weight tells
		then, _, _ := it.fc.Level(s.Outlook.LastSeen)
		s.LastGross = s.House + unit.Grams(then.Mean)
	}
	if it.silent || !it.polled && stale(s.Outlook, now) {
		s.Silent = s.Outlook.LastSeen
	}
	e.errandOf(it, &s)
	return s
}

// Pace is how soon the scale of a cylinder should be read again.
func (e *Engine) Pace(cylinder string) forecast.Pace {
	if it := e.onScale(cylinder); it != nil {
		return it.fc.Pace()
	}
	return forecast.Usual
}

// stale reports that a typed weight is so old that another would help: after three weeks, after one when the gas may end
// within a month.
func stale(o forecast.Outlook, now time.Time) bool {
	age := unit.Between(o.LastSeen, now)
	return age > 21 || age > 7 && o.RunOut.Known() && o.RunOut.Quantile(0.1) < 30
}
