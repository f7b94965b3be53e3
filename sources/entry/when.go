package entry

import "time"

// when is what a message says about time.
type when struct {
	ago      time.Duration // before now, under a day
	hasAgo   bool
	date     date
	hasDate  bool
	part     int // its hour
	hasPart  bool
	clock    clock
	hasClock bool
	sameTime bool // "2 days ago": the time of day is that of now
	twice    bool // two different times or days
}

// date is a day of the calendar.
type date struct {
	y      int
	m      time.Month
	d      int
	noYear bool // y was assumed
}

// clock is a time of the day. If half is set the hour may also be meant twelve hours later.
type clock struct {
	h, m, s int
	half    bool
	pm      int // +1 pm, -1 am, 0 not said
	zone    bool
	offset  time.Duration // east of UTC, if zone
}

func (w *when) setClock(c clock) {
	w.twice = w.twice || w.hasClock && w.clock != c
	w.clock, w.hasClock = c, true
}

func (w *when) setDate(d date) {
	w.twice = w.twice || w.hasDate && w.date != d
	w.date, w.hasDate = d, true
}

// said reports that anything was said about time.
func (w *when) said() bool { return w.hasAgo || w.hasDate || w.hasPart || w.hasClock || w.twice }

func dateOf(t time.Time) date {
	y, m, d := t.Date()
	return date{y: y, m: m, d: d}
}

// plus is n days later.
func (d date) plus(n int) date { return dateOf(time.Date(d.y, d.m, d.d+n, 12, 0, 0, 0, time.UTC)) }

// valid reports whether d is in the calendar.
func (d date) valid() bool {
	return d.y > 0 && d.y < 10000 && d.plus(0) == date{y: d.y, m: d.m, d: d.d}
}

func (d date) after(o date) bool {
	return d.y > o.y || d.y == o.y && (d.m > o.m || d.m == o.m && d.d > o.d)
}

// at is the moment c on day d, in the zone of loc.
func (d date) at(c clock, loc *time.Location, now time.Time) time.Time {
	if c.zone {
		return time.Date(d.y, d.m, d.d, c.h, c.m, c.s, 0, time.UTC).Add(-c.offset).In(loc)
	}
	return local(d, c, loc, now)
}

// local is the moment at which the clocks of loc show c on day d. See the package comment for clock changes.
func local(d date, c clock, loc *time.Location, now time.Time) time.Time {
	wall := time.Date(d.y, d.m, d.d, c.h, c.m, c.s, 0, time.UTC)
	offset := func(t time.Time) time.Duration {
		_, s := t.In(loc).Zone()
		return time.Duration(s) * time.Second
	}
	before, after := offset(wall.Add(-36*time.Hour)), offset(wall.Add(36*time.Hour))
	first, second := wall.Add(-before), wall.Add(-after)
	ok1, ok2 := offset(first) == before, offset(second) == after
	if ok2 && (!ok1 || !second.After(now)) {
		return second.In(loc)
	}
	return first.In(loc)
}
