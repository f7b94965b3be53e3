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
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
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
	e := &Engine{opt: o, timetable: newTimetable(o), people: newPeople(o.Members), supply: newSupply(o), servings: newServings(&o.Cylinders[0])}
	for i := range o.Cylinders {
		e.cylinders = append(e.cylinders, newCylinder(&o.Cylinders[i]))
	}
	return e
}

// first is the first cylinder that is something; nil: none.
func (e *Engine) first(is func(*cylinder) bool) *cylinder {
	if i := slices.IndexFunc(e.cylinders, is); i >= 0 {
		return e.cylinders[i]
	}
	return nil
}

// find is the cylinder of a name, nil if there is none; an empty name is the first in use.
func (e *Engine) find(name string) *cylinder {
	return e.first(func(c *cylinder) bool { return name == "" && !c.waits || c.cfg.Name == name })
}

// standingAt is the cylinder that has the place which the config gives to a cylinder: it stands on that scale, beside that
// monitor. An empty name is the first in use.
func (e *Engine) standingAt(name string) *cylinder {
	return e.first(func(c *cylinder) bool { return name == "" && !c.waits || c.place.Name == name })
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

// fullSpare is a full cylinder that waits; nil: there is none.
func (e *Engine) fullSpare() *cylinder {
	return e.first(func(c *cylinder) bool { return c.waits && c.full })
}

// spareFor is the usable gas that stands by full for a cylinder.
func (e *Engine) spareFor(c *cylinder) unit.Grams {
	if full := e.fullSpare(); full != nil && !c.waits {
		return max(0, full.spareNet-full.fc.Heel())
	}
	return 0
}

func (e *Engine) turn(c *cylinder) turn {
	return turn{Place: e.placeOf(c, e.now), voice: e.opt.Voice, worth: e.worth, out: &e.out}
}

func (e *Engine) placeOf(c *cylinder, now time.Time) notice.Place {
	return notice.Place{Cylinder: c.cfg.Name, Named: len(e.cylinders) > 1, Now: now}
}

func (e *Engine) books() books {
	b := books{opt: &e.opt, servings: &e.servings}
	for _, c := range e.cylinders {
		b.fills = append(b.fills, c.history())
	}
	return b
}

// worth prices lost gas; "" when there is no price.
func (e *Engine) worth(m unit.Grams) string {
	r, _ := e.books().rate()
	if !r.Known() {
		return ""
	}
	return r.Of(m).String()
}
