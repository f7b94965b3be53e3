// Package household is the engine: a weighing or an event at time t goes in, notices come out.
//
// It is the one decision path. Live running, the demo and replay feed the same Engine; only the clock, the
// source of weighings and the chat differ. It has no clock of its own, does no I/O and uses constant memory,
// so the same entries in the same order lead to the same state and the same notices.
package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Options describes a household. Functions in it are pure.
type Options struct {
	Zone       *time.Location
	Voice      notice.Voice
	NextStatus func(after time.Time) time.Time // when the next weekly status is due; zero: never
	LookHour   int                             // hour of the day, 0-23, at which the day's look is taken
	Cylinders  []Cylinder
	Refill     Refill
	Members    []record.Member // in the order of the config; none: nobody takes turns
}

// Refill is how a refill is got.
type Refill struct {
	record.Refill
	Open    func(day time.Time) bool   // whether the supplier is open; nil: every day
	Holiday func(day time.Time) string // the public holiday that it closes on; nil: none
}

// Cylinder is one cylinder of the household.
type Cylinder struct {
	Name          string
	Forecast      forecast.Options
	RoomVolume    unit.Litres // 0: unknown
	AirChanges    float64     // per hour
	SilentAfter   time.Duration
	Scale         bool         // a scale is there, though it may never have answered
	ScaleFrom     unit.Celsius // what it is made for; both 0: what load cells usually are
	ScaleTo       unit.Celsius
	AirAlarm      unit.PPM    // of the CO2 monitor; 0: there is none
	Retest        time.Time   // zero: unknown
	GramsPerLitre float64     // gas per litre of drink; 0: unknown
	Litres        unit.Litres // of drink in a serving; 0: unknown
	Spare         bool        // waits its turn, full
	Stock         unit.Money  // what the gas cost that was in it at the first weighing; zero: nothing is charged for it
	StockBy       string      // who paid for that
}

// Engine is a household's running state.
type Engine struct {
	opt     Options
	items   []*item
	now     time.Time // the latest moment that has been dealt with
	input   time.Time // the last weighing or event
	look    time.Time // next daily look
	status  time.Time // next weekly status
	people  people
	past    []refill.Booking // the last ones, for the lead time
	lead    refill.Wait
	delays  []refill.Acted     // from the first reminder to the booking, the last ones
	weights []refill.Acted     // from asking for a weight to its coming
	made    serving.Serving    // found by weighing; zero: as configured
	served  map[string]float64 // servings logged, by name
	out     []notice.Notice    `checkpoint:"-"`
}

// New starts a household that has seen nothing.
func New(o Options) *Engine {
	e := &Engine{opt: o, people: newPeople(o.Members), served: map[string]float64{}}
	for i := range o.Cylinders {
		e.items = append(e.items, newItem(&o.Cylinders[i]))
	}
	e.learnLead()
	return e
}

// Now is the latest moment that has been dealt with.
func (e *Engine) Now() time.Time { return e.now }

// Tell takes a weighing, or what somebody did or said, and returns the notices that became due up to then. One that lies before Now is
// ignored: the caller rebuilds from the ledger instead.
func (e *Engine) Tell(ev record.Event) []notice.Notice {
	e.out = nil
	it := e.item(ev.Cylinder)
	if ev.Kind == record.Weighed && ev.Origin != record.Manual || ev.Kind == record.Air {
		it = e.onScale(ev.Cylinder)
	}
	if it == nil || !e.advance(ev.At) {
		return e.out
	}
	e.heed()
	if ev.Kind == record.Weighed {
		e.weigh(it, forecast.Weighing{At: ev.At, Gross: ev.Gross, Temp: ev.Temp, HasTemp: ev.HasTemp, Manual: ev.Origin == record.Manual})
	} else {
		e.tell(it, ev)
	}
	return e.out
}

// Advance lets time pass until now and returns the notices that became due.
func (e *Engine) Advance(now time.Time) []notice.Notice {
	e.out = nil
	e.advance(now)
	return e.out
}

// Next is when Advance will next have something to do. It is zero before the first input.
func (e *Engine) Next() time.Time {
	if e.now.IsZero() {
		return time.Time{}
	}
	next := e.look
	next = earlier(next, e.status)
	for _, it := range e.items {
		next = earlier(next, it.wake())
	}
	return next
}

// earlier is the earlier of two times, of which a zero one is never.
func earlier(a, b time.Time) time.Time {
	if a.IsZero() || (!b.IsZero() && b.Before(a)) {
		return b
	}
	return a
}

// advance deals with everything due up to now. It reports false, and does nothing, when now lies in the past.
func (e *Engine) advance(now time.Time) bool {
	if e.now.IsZero() {
		e.now, e.input = now, now
		e.look = e.lookAfter(now)
		e.status = e.statusAfter(now)
		for _, it := range e.items {
			it.heard = now // from here on a scale that is there should be heard
		}
	}
	if now.Before(e.now) {
		return false
	}
	for next := e.Next(); !next.IsZero() && !next.After(now); next = e.Next() {
		e.now = next
		e.moment(now)
	}
	e.now = now
	return true
}

// moment does what is due at e.now. until is how far time is about to pass without any input: of several
// weekly statuses missed on the way only the last is worth reading.
func (e *Engine) moment(until time.Time) {
	for _, it := range e.items {
		e.wakeItem(it)
	}
	if !e.status.IsZero() && !e.status.After(e.now) {
		due := e.status
		e.status = e.statusAfter(e.now)
		e.weekly(due, e.status.IsZero() || e.status.After(until))
	}
	if !e.look.IsZero() && !e.look.After(e.now) {
		e.look = e.lookAfter(e.now)
		for _, it := range e.items {
			e.daily(it)
			e.recheck(it)
		}
	}
}

// A household that says nothing is looked at ever more rarely, and not at all in the end: every look carries what is believed forward from the
// last input, and a wrong clock may let a century pass at once.
const (
	silence     = 100 * 24 * time.Hour     // from then on the looks become rarer
	rarer       = 10                       // the next look comes when the silence has grown by this part
	longSilence = 2 * 366 * 24 * time.Hour // after which nothing is looked at before the next input
)

// rests reports that the silence is so long that nothing is looked at, and how long at least to the next look otherwise.
func (e *Engine) rests(t time.Time) (wait time.Duration, forever bool) {
	quiet := t.Sub(e.input)
	if quiet < silence {
		return 0, false
	}
	return quiet / rarer, quiet > longSilence
}

// heed takes down that there was an input now. After a silence the looks come as often as ever.
func (e *Engine) heed() {
	wait, _ := e.rests(e.now)
	e.input = e.now
	if wait > 0 {
		e.look, e.status = e.lookAfter(e.now), e.statusAfter(e.now)
	}
}

// lookAfter is the next time at which the day's look is taken; zero: never, unless there is an input.
func (e *Engine) lookAfter(t time.Time) time.Time {
	wait, forever := e.rests(t)
	if forever {
		return time.Time{}
	}
	t = t.Add(wait)
	l := t.In(e.opt.Zone)
	at := time.Date(l.Year(), l.Month(), l.Day(), e.opt.LookHour, 0, 0, 0, e.opt.Zone)
	if !at.After(t) {
		at = time.Date(l.Year(), l.Month(), l.Day()+1, e.opt.LookHour, 0, 0, 0, e.opt.Zone)
	}
	return at
}

// statusAfter is when the next weekly status is due; zero: never, unless there is an input.
func (e *Engine) statusAfter(t time.Time) time.Time {
	wait, forever := e.rests(t)
	if forever || e.opt.NextStatus == nil {
		return time.Time{}
	}
	return e.opt.NextStatus(t.Add(wait))
}

// item finds a cylinder by name; an empty name is the first in use.
func (e *Engine) item(name string) *item {
	for _, it := range e.items {
		if name == "" && !it.spare || it.cfg.Name == name {
			return it
		}
	}
	return nil
}

func (e *Engine) say(n notice.Notice) { e.out = append(e.out, n) }

// key names an occasion for ever.
func (e *Engine) key(it *item, kind notice.Kind, at time.Time) string {
	return it.cfg.Name + "/" + string(kind) + "/" + at.UTC().Format("20060102T150405.000")
}

// Cylinders are the names of the cylinders in use, in the order of the options.
func (e *Engine) Cylinders() []string {
	var names []string
	for _, it := range e.items {
		if !it.spare {
			names = append(names, it.cfg.Name)
		}
	}
	return names
}
