package trial

import (
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
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
	Posts    map[string]int // notices by kind, "again" what follows one
	Typed    int            // weights typed
	state    state
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
	r       chance
	policy  Policy
	margin  float64 // days
	engine  *household.Engine
	events  []household.Event // to be told, in order
	maker   maker
	done    float64 // what was said up to then has been acted on
	mendAt  int     // somebody is on the way to stop a loss; never
	mending int     // when that began
	bookAt  int     // by Truth
	planned int     // refills that bookAt was made for
	story   Story
}

// Live lets people live with the engine, or by another policy, to the end.
func Live(h *Home, policy Policy, margin float64, story Story) (Life, error) {
	d := &dweller{story: story, Home: h, r: newChance(h.Seed, peopleStream), policy: policy, margin: margin, mendAt: never, planned: never}
	d.state = newState(h)
	d.s = &d.state
	d.Posts = map[string]int{}
	d.Life.Home = h
	if policy == Engine {
		o, err := h.Options()
		if err != nil {
			return Life{}, err
		}
		d.engine = household.New(o)
		d.say(0, household.Event{Kind: household.Filled, Net: unit.Grams(h.net)})
	}
	for d.s.minute < h.end {
		d.step()
	}
	d.s.end(h.end, Open, func(Loss) bool { return true })
	d.Spells, d.Dry, d.Missed = d.s.spells, float64(d.s.dry)/day, float64(d.s.missed)/float64(max(1, len(h.draws)))
	d.Losses, d.Refills = d.s.over, d.s.fills
	return d.Life, nil
}

// step lives through one step and does what is to be done then.
func (d *dweller) step() {
	t := d.s.minute
	coming := d.s.fillAt
	d.s.tick(d.Home)
	d.mend()
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
	w, weighed := d.s.reading(d.Home, t)
	if weighed && d.typed {
		d.note(float64(t), "typed: %.0f g of gas", float64(w.Gross)-d.tare-d.fit)
	}
	if weighed && d.typed {
		d.Typed++
	}
	if d.policy == Maker && weighed && d.maker.see(d.Home, d.s, t, float64(w.Gross), d.margin) && d.s.fillAt == never && float64(t) > d.done {
		d.book(float64(t), false)
	}
	if d.engine == nil {
		return nil
	}
	told := d.tell(when(float64(t)))
	if weighed {
		told = append(told, d.engine.Weigh(household.Weighing{Cylinder: "main", Weighing: w})...)
	}
	next := when(float64(t + step)).Add(-time.Nanosecond)
	told = append(told, d.tell(next)...)
	told = append(told, d.engine.Advance(next)...)
	for _, n := range told {
		kind := string(n.Kind)
		d.note(minuteOf(n.At), "%s: %s", kind, n.Headline)
		if n.Follows != "" {
			kind = "again"
		}
		d.Posts[kind]++
	}
	return told
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
		told = append(told, d.engine.Tell(d.events[0])...)
		d.events = d.events[1:]
	}
	return told
}

// say has somebody tell the engine something at a minute.
func (d *dweller) say(minute float64, e household.Event) {
	if d.engine == nil {
		return
	}
	d.note(minute, "says %s", e.Kind)
	e.At, e.Cylinder = when(minute).Truncate(time.Second), "main"
	i, _ := slices.BinarySearchFunc(d.events, e, func(a, b household.Event) int { return a.At.Compare(b.At) })
	d.events = slices.Insert(d.events, i, e)
}

// weighLater has somebody type a weight at a minute.
func (d *dweller) weighLater(minute int) {
	d.s.extra = append(slices.Clone(d.s.extra), minute)
	slices.Sort(d.s.extra)
}

// notice acts on something that is said.
func (d *dweller) notice(n notice.Notice, m float64) {
	switch n.Kind {
	case notice.RefillDue:
		if d.s.fillAt == never {
			d.book(m, false)
		}
	case notice.PossibleLeak:
		d.done = m
		d.alarmed(n)
	case notice.OddReading, "weigh-due":
		if !d.typed {
			return
		}
		d.done = m
		mostly := 0.85
		if n.Kind == notice.OddReading {
			mostly = 0.7
		}
		if d.r.happens(mostly) {
			d.weighLater(d.s.minute + int(d.r.between(30, 2880)))
		}
	}
}

// book gets a refill: within a day or so after a reminder, at once after a day without gas. It comes at eleven in the morning.
func (d *dweller) book(m float64, dry bool) {
	now := d.s.minute
	d.done = m
	wait := min(d.r.after(day), 4*day)
	if dry {
		d.say(float64(now), household.Event{Kind: household.RanDry})
		wait = d.r.between(10, 600)
	}
	booked := float64(now) + wait
	comes := max(0, d.lead+oneOf(d.r, -1, 0, 0, 0, 0, 0, 1, 2))
	at := int(booked/day)*day + comes*day + 300
	for float64(at) <= booked+130 {
		at += day
	}
	d.s.fillAt, d.s.fillNet = at, d.net*d.r.between(0.975, 1)
	d.say(booked, household.Event{Kind: household.Booked, Day: when(booked).AddDate(0, 0, d.lead).Truncate(24 * time.Hour).Add(12 * time.Hour)})
	if d.r.happens(0.5) {
		d.say(float64(at+20), household.Event{Kind: household.Filled, Net: unit.Grams(d.net)})
	}
	if d.typed {
		d.weighLater(at + 60)
	}
	d.note(booked, "booked; it comes at %s", when(float64(at)).Format(moment))
	ahead := d.s.clone()
	for ahead.minute < at-130 {
		ahead.tick(d.Home)
	}
	left := max(0, ahead.gas-d.heel)
	d.Left, d.LeftDays = append(d.Left, left/d.net), append(d.LeftDays, left/d.rate)
}

// alarmed looks for the loss that is told. Who finds none says, mostly, that they used the gas.
func (d *dweller) alarmed(n notice.Notice) {
	now := d.s.minute
	last := len(d.s.over) - 1
	switch {
	case len(d.s.open) > 0:
		d.goAndSee(&d.s.open[0], n.Severity)
	case last >= 0 && d.s.over[last].end > now-day && d.s.over[last].told == never && d.s.over[last].start < now:
		d.s.over[last].told = now // it ended by itself before
	case n.Follows == "":
		d.False++
		if d.r.happens(0.7) {
			d.say(float64(now)+d.r.between(5, 300), household.Event{Kind: household.Answer, Cause: forecast.WeUsedIt})
		}
	}
}

// goAndSee has somebody stop a loss: within two hours if it is a danger, else within a day, and not at night.
func (d *dweller) goAndSee(l *Loss, how notice.Severity) {
	now := d.s.minute
	if d.mendAt != never {
		return
	}
	if l.told == never {
		l.told = now
	}
	wait := d.r.between(10, 120)
	if how != notice.Danger {
		wait = d.r.between(60, day)
		if hour := math.Mod(float64(now)/60+6, 24); hour < 7 {
			wait += 420
		}
	}
	ahead := d.s.clone()
	for float64(ahead.minute) < float64(now)+wait {
		ahead.tick(d.Home)
	}
	if len(ahead.open) > 0 && ahead.open[0].start == l.start {
		d.mendAt, d.mending = ahead.minute, l.start
	}
}

// mend stops the loss that somebody set out for.
func (d *dweller) mend() {
	if d.mendAt == never || d.s.minute < d.mendAt {
		return
	}
	d.mendAt = never
	if len(d.s.open) > 0 && d.s.open[0].start == d.mending {
		d.s.end(d.s.minute, Told, func(l Loss) bool { return l.start == d.mending })
		d.say(float64(d.s.minute), household.Event{Kind: household.Answer, Cause: forecast.Repaired})
	}
}

// bookingDay is when who knows the end books.
func (d *dweller) bookingDay() int {
	if d.planned != d.s.fills {
		d.planned, d.bookAt = d.s.fills, math.MaxInt
		for ahead := d.s.clone(); ahead.minute < d.end; ahead.tick(d.Home) {
			if ahead.drySince != never {
				d.bookAt = ahead.drySince - int((float64(d.lead)+d.margin)*day)
				break
			}
		}
	}
	return d.bookAt
}

// maker is the arithmetic on the leaflets of makers of scales, once a day: gas left over mean use since the fill.
type maker struct {
	day, fill   int
	begun       bool
	at, gas     float64 // first of this fill
	last, lasts float64 // minute, gas
	past        float64 // g/minute of the fill before; 0: unknown
}

// see takes a weight and reports that it is time to book.
func (k *maker) see(h *Home, s *state, t int, gross, margin float64) bool {
	m, gas := float64(t), gross-h.tare-h.fit
	if gas <= -min(1000, h.net/2) || gas >= 1.15*h.net || k.begun && t/day == k.day {
		return false
	}
	k.day = t / day
	if !k.begun || k.fill != s.lastFill {
		if k.begun && k.last > k.at+day {
			k.past = (k.gas - k.lasts) / (k.last - k.at)
		}
		k.begun, k.fill, k.at, k.gas = true, s.lastFill, m, gas
	}
	k.last, k.lasts = m, gas
	use := k.past
	if m > k.at+3*day && k.gas > gas {
		use = (k.gas - gas) / (m - k.at)
	}
	return use > 0 && gas/use <= (float64(h.lead)+margin)*day
}
