package trial

import (
	"fmt"
	"io"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Policy is by what a household books its refills.
type Policy string

// The policies.
const (
	Engine Policy = "engine" // when it is told to
	Maker  Policy = "maker"  // when gas left over mean use since the fill is at most the lead and a margin; it sees no loss
	Truth  Policy = "truth"  // the lead and a margin before the day it will end
)

// Life is what became of a household.
type Life struct {
	Home     *Home
	Refills  int
	Spells   int       // without gas
	Dry      float64   // days
	Missed   float64   // share of servings
	Left     []float64 // share of the fill left over at each refill
	LeftDays []float64 // the same in days of mean use
	Losses   []Loss
	False    int            // possible leaks told where there was none
	Posts    map[string]int // notices by kind, "follow-up" what continues one
	Typed    int            // weights typed
	Polls    int            // readings beyond the regular ones
}

// Story is told what happens, as it happens; nil: nobody listens.
type Story func(minute float64, what string)

// moment is how a time is written.
const moment = "2006-01-02 15:04"

// WriteStory makes a Story that prints a line for everything.
func WriteStory(w io.Writer) Story {
	return func(minute float64, what string) { fmt.Fprintf(w, "    %s %s\n", when(minute).Format(moment), what) }
}

// dweller lives through a Home.
type dweller struct {
	*Home
	Life
	s       *state
	r       rng
	policy  Policy
	margin  float64        // days
	engine  engine         // nil: they book by another policy
	events  []record.Event // to be told, in order
	maker   maker
	done    float64 // what was said up to then has been acted on
	mendAt  int     // somebody is on the way to stop a loss; never
	mending int     // when that began
	bookAt  int     // by Truth
	planned int     // refills that bookAt was made for
	story   Story
}

// engine is what a household lives with: a household.Engine.
type engine interface {
	Apply(record.Event) []notice.Notice
	Advance(time.Time) []notice.Notice
	Pace(cylinder string) forecast.Pace
}

// Live lets people live with the engine, or by another policy, to the end. margin is what Maker and Truth add to the lead, days.
func Live(h *Home, policy Policy, margin float64, story Story) (Life, error) {
	var e engine
	if policy == Engine {
		o, err := h.Options()
		if err != nil {
			return Life{}, err
		}
		e = household.New(o)
	}
	return newDweller(h, policy, margin, e, story).live(), nil
}

func newDweller(h *Home, policy Policy, margin float64, e engine, story Story) *dweller {
	d := &dweller{story: story, Home: h, r: newRNG(h.Seed, peopleStream), policy: policy, margin: margin, engine: e, mendAt: never, planned: never}
	d.s = newState(h)
	d.Posts, d.Life.Home = map[string]int{}, h
	d.say(0, record.Event{Kind: record.Filled, Net: unit.Grams(h.net)})
	return d
}

func (d *dweller) live() Life {
	for d.s.minute < d.end {
		d.step()
	}
	d.s.end(d.end, Open, func(Loss) bool { return true })
	d.Spells, d.Dry, d.Missed = d.s.spells, float64(d.s.dry)/day, float64(d.s.missed)/float64(max(1, len(d.draws)))
	d.Losses, d.Refills, d.Polls = d.s.over, d.s.fills, d.s.polls
	return d.Life
}

// step lives through one step and does what is to be done then.
func (d *dweller) step() {
	t := d.s.minute
	coming, begun, over, spells := d.s.fillAt, d.s.nextLeak, len(d.s.over), d.s.spells
	d.s.tick(d.Home)
	if d.s.spells > spells {
		d.note(float64(t), "it runs dry")
	}
	d.mend()
	for _, l := range d.leaks[begun:d.s.nextLeak] {
		d.note(float64(t), "a loss begins: %s, %.1f g/h, %.0f h if nobody is told", l.kind, l.rate, l.hours)
	}
	for _, l := range d.s.over[over:] {
		d.note(float64(t), "a loss ends: %s, %.0f g are lost, %s", l.kind, l.lost, l.fate)
	}
	told := d.hear(t)
	if coming == t {
		d.done = float64(t)
	}
	for _, n := range told {
		if m := minuteOf(n.At); m > d.done {
			d.notice(n, m)
		}
	}
	if d.s.fillAt != never {
		return
	}
	switch {
	case d.policy == Truth && t >= d.bookingDay():
		d.book(float64(t), false)
	case d.s.drySince != never && t >= d.s.drySince+day:
		d.book(float64(t), true)
	}
}

// hear weighs, if it is time to, and returns what the engine says up to the next step.
func (d *dweller) hear(t int) []notice.Notice {
	told := d.tell(when(float64(t)))
	d.s.weigh(d.Home, t, d.pace, func(w record.Event) { told = append(told, d.weighed(t, w)...) })
	if d.engine == nil {
		return nil
	}
	next := when(float64(t + step)).Add(-time.Nanosecond)
	told = append(told, d.tell(next)...)
	told = append(told, d.engine.Advance(next)...)
	for _, n := range told {
		kind := string(n.Kind)
		d.note(minuteOf(n.At), "%s: %s", kind, n.Headline)
		if n.Follows != "" {
			kind = "follow-up"
		}
		d.Posts[kind]++
	}
	return told
}

func (d *dweller) pace() forecast.Pace {
	if d.engine == nil {
		return forecast.Usual
	}
	return d.engine.Pace("main")
}

// weighed passes a weight on.
func (d *dweller) weighed(t int, w record.Event) []notice.Notice {
	if d.typed {
		d.note(float64(t), "typed: %.0f g of gas", float64(w.Gross)-d.tare-d.fit)
		d.Typed++
	}
	if d.policy == Maker && d.maker.see(d.Home, d.s, t, float64(w.Gross), d.margin) && d.s.fillAt == never && float64(t) > d.done {
		d.book(float64(t), false)
	}
	if d.engine == nil {
		return nil
	}
	return d.engine.Apply(w)
}

// note tells the story.
func (d *dweller) note(minute float64, format string, args ...any) {
	if d.story != nil {
		d.story(minute, fmt.Sprintf("%6.0f g left, %d losses: ", d.s.gas, len(d.s.open))+fmt.Sprintf(format, args...))
	}
}

// tell passes on what people had to say up to then.
func (d *dweller) tell(until time.Time) (told []notice.Notice) {
	for len(d.events) > 0 && !d.events[0].At.After(until) {
		told = append(told, d.engine.Apply(d.events[0])...)
		d.events = d.events[1:]
	}
	return told
}
