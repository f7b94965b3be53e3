// Package household is the engine: a weighing or an event at time t goes in, notices come out.
//
// It is the one decision path. Live running, the demo and replay feed the same Engine; only the clock, the
// source of weighings and the chat differ. It has no clock of its own, does no I/O and uses constant memory,
// so the same entries in the same order lead to the same state and the same notices.
//
// The Engine owns the parts and gives each what concerns it. Of every cylinder these are its contents and, of the site where it stands, the
// scale, the monitor, the leaks, the findings that may pass, and the errand of the refill; of the household its people, its supply, its servings
// and the timetable. A part keeps its own state, is told the turn in which it speaks, and does not know the Engine.
package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// Engine is a household's running state.
type Engine struct {
	opt       Options
	cylinders []*cylinder
	now       time.Time // the latest moment that has been dealt with
	timetable timetable
	people    people
	supply    supply
	servings  servings
	out       []notice.Notice `checkpoint:"-"`
}

// New starts a household that has seen nothing.
func New(o Options) *Engine {
	e := &Engine{opt: o, timetable: newTimetable(o), people: newPeople(o.Members), supply: newSupply(o), servings: servings{logged: map[string]float64{}}}
	for i := range o.Cylinders {
		e.cylinders = append(e.cylinders, newCylinder(&o.Cylinders[i]))
	}
	return e
}

// Now is the latest moment that has been dealt with.
func (e *Engine) Now() time.Time { return e.now }

// Apply takes a weighing, or what somebody did or said, and returns the notices that became due up to then. One that lies before Now is
// ignored: the caller rebuilds from the ledger instead.
func (e *Engine) Apply(ev record.Event) []notice.Notice {
	e.out = nil
	c := e.find(ev.Cylinder)
	if ev.Kind == record.Weighed && ev.Origin != record.Manual || ev.Kind == record.Air {
		c = e.standingAt(ev.Cylinder)
	}
	if c == nil || !e.advance(ev.At) {
		return e.out
	}
	e.timetable.entered(e.now)
	if ev.Kind == record.Weighed {
		e.weigh(c, forecast.Weighing{At: ev.At, Gross: ev.Gross, Temp: ev.Temp, HasTemp: ev.HasTemp, Manual: ev.Origin == record.Manual})
	} else {
		e.event(c, ev)
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
	next := earlier(e.timetable.review, e.timetable.status)
	for _, c := range e.cylinders {
		next = earlier(next, c.wake())
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

// due reports that a time has come; a zero one never does.
func due(at, now time.Time) bool { return !at.IsZero() && !at.After(now) }

// advance deals with everything due up to now. It reports false, and does nothing, when now lies in the past.
func (e *Engine) advance(now time.Time) bool {
	if e.now.IsZero() {
		e.now = now
		e.timetable.begin(now)
		for _, c := range e.cylinders {
			c.scale.heard = now // from here on a scale that is there should be heard
		}
	}
	if now.Before(e.now) {
		return false
	}
	for next := e.Next(); due(next, now); next = e.Next() {
		e.now = next
		e.moment(now)
	}
	e.now = now
	return true
}

// moment does what is due at e.now. until is how far time is about to pass without any input: of several
// weekly statuses missed on the way only the last is worth reading.
func (e *Engine) moment(until time.Time) {
	for _, c := range e.cylinders {
		e.wake(c)
	}
	if at := e.timetable.status; due(at, e.now) {
		e.timetable.status = e.timetable.statusAfter(e.now)
		e.weekly(at, !due(e.timetable.status, until))
	}
	if due(e.timetable.review, e.now) {
		e.timetable.review = e.timetable.reviewAfter(e.now)
		for _, c := range e.cylinders {
			e.review(c)
			if !c.waits && c.leaks.open == nil { // a leak is graver
				c.scale.recheck(e.turn(c), c.place, c.last())
			}
		}
	}
}

// wake does the first of what cylinder.wake announced for now.
func (e *Engine) wake(c *cylinder) {
	t := e.turn(c)
	switch {
	case due(c.leaks.next(), e.now):
		c.leaks.repeat(t, c.place, c.takeStock(e.now))
	case due(c.pending.next(), e.now):
		for _, f := range c.pending.lasted(e.now) {
			e.odd(c, f)
		}
	case !c.waits && due(c.scale.silentFrom(c.place), e.now):
		c.scale.fallSilent(t)
	}
}

// find is the cylinder of a name, nil if there is none; an empty name is the first in use.
func (e *Engine) find(name string) *cylinder {
	for _, c := range e.cylinders {
		if name == "" && !c.waits || c.cfg.Name == name {
			return c
		}
	}
	return nil
}

// standingAt is the cylinder that has the place which the config gives to a cylinder: it stands on that scale, beside that
// monitor. An empty name is the first in use.
func (e *Engine) standingAt(name string) *cylinder {
	for _, c := range e.cylinders {
		if name == "" && !c.waits || c.place.Name == name {
			return c
		}
	}
	return nil
}

// Cylinders are the names of the cylinders in use, in the order of the options.
func (e *Engine) Cylinders() []string {
	var names []string
	for _, c := range e.cylinders {
		if !c.waits {
			names = append(names, c.cfg.Name)
		}
	}
	return names
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
