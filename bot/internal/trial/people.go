package trial

import (
	"math"
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// say has somebody tell the engine something at a minute.
func (d *dweller) say(minute float64, e record.Event) {
	if d.engine == nil {
		return
	}
	d.note(minute, "says %s", e.Kind)
	e.At, e.Cylinder = when(minute).Truncate(time.Second), "main"
	i, _ := slices.BinarySearchFunc(d.events, e, func(a, b record.Event) int { return a.At.Compare(b.At) })
	d.events = slices.Insert(d.events, i, e)
}

// weighLater has somebody type a weight at a minute.
func (d *dweller) weighLater(minute int) {
	d.s.extra = append(slices.Clone(d.s.extra), minute)
	slices.Sort(d.s.extra)
}

// notice acts on something that is said. Whatever is a refill-due makes them book if nothing is on its way, also the question
// whether a refill that was to come did.
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
		d.say(float64(now), record.Event{Kind: record.RanDry})
		wait = d.r.between(10, 600)
	}
	booked := float64(now) + wait
	comes := max(0, d.lead+oneOf(d.r, -1, 0, 0, 0, 0, 0, 1, 2))
	at := int(booked/day)*day + comes*day + 300
	for float64(at) <= booked+130 {
		at += day
	}
	d.s.fillAt, d.s.fillNet = at, d.net*d.r.between(0.975, 1)
	d.say(booked, record.Event{Kind: record.Booked, Day: when(booked).AddDate(0, 0, d.lead).Truncate(24 * time.Hour).Add(12 * time.Hour)})
	if d.r.happens(0.5) {
		d.say(float64(at+20), record.Event{Kind: record.Filled, Net: unit.Grams(d.net)})
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
			d.say(float64(now)+d.r.between(5, 300), record.Event{Kind: record.Answer, Cause: record.Used})
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
		d.say(float64(d.s.minute), record.Event{Kind: record.Answer, Cause: record.Repaired})
	}
}
