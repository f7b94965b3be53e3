package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit/record"
)

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
	e.event(c, ev)
	return e.out
}

// Advance lets time pass until now and returns the notices that became due.
func (e *Engine) Advance(now time.Time) []notice.Notice {
	e.out = nil
	e.advance(now)
	return e.out
}

// Next is when Advance will next have something to do: at once for what is overdue, as a pause that is forgotten makes it. It is zero before the
// first input.
func (e *Engine) Next() time.Time {
	if e.now.IsZero() {
		return time.Time{}
	}
	next := earlier(e.timetable.review, e.timetable.status)
	for _, c := range e.cylinders {
		next = earlier(next, c.wake())
	}
	if due(next, e.now) {
		return e.now
	}
	return next
}

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
