package entry

import "time"

const (
	// ahead is how far a time may lie after now before it counts as still to come: people round, clocks differ.
	ahead = 5 * time.Minute
	// yearlessDays is how old a date without a year may be before it is asked about.
	yearlessDays = 60
	// oldestYears is how old any date may be: about two periods of retest.
	oldestYears = 10
)

// night is the hour of the night, and begins is from when on a part of the day has begun, by its hour.
const night = 22

var begins = map[int]int{8: 4, 12: 11, 15: 12, 19: 17, night: 17}

// moment is when a weight was weighed: one time, or several it may have been and why it is doubtful.
type moment struct {
	times  []time.Time // never empty
	reason Reason      // "" if there is no doubt
}

// resolve turns what was said about time into a moment.
func (w *when) resolve(now time.Time) moment {
	switch {
	case w.twice, w.hasAgo && (w.hasDate || w.hasClock || w.hasPart):
		return moment{[]time.Time{now}, WhichTime}
	case w.hasAgo:
		return moment{times: []time.Time{now.Add(-w.ago)}}
	}
	day := dateOf(now)
	if w.hasDate {
		day = w.date
		day.noYear = false
	}
	m := w.onDay(day, now)
	if m.reason == "" && w.old(m.times[0], now) {
		m.reason = LongAgo
	}
	return m
}

func (w *when) old(t, now time.Time) bool {
	return w.date.noYear && t.Before(now.AddDate(0, 0, -yearlessDays)) || t.Before(now.AddDate(-oldestYears, 0, 0))
}

func (w *when) onDay(day date, now time.Time) moment {
	switch {
	case w.hasClock:
		return w.clockOn(day, now)
	case w.hasPart:
		return w.partOn(day, now)
	case !w.hasDate || day == dateOf(now):
		return moment{times: []time.Time{now}}
	case day.after(dateOf(now)):
		return moment{[]time.Time{now}, Future}
	case w.sameTime:
		return moment{times: []time.Time{day.at(clock{h: now.Hour(), m: now.Minute(), s: now.Second()}, now.Location(), now)}}
	}
	return moment{times: []time.Time{day.at(clock{h: 12}, now.Location(), now)}}
}

func (w *when) partOn(day date, now time.Time) moment {
	t := day.at(clock{h: w.part}, now.Location(), now)
	switch {
	case !t.After(now):
		return moment{times: []time.Time{t}}
	case day == dateOf(now) && now.Hour() >= begins[w.part]:
		return moment{times: []time.Time{now}}
	}
	return moment{[]time.Time{now}, Future}
}

// clockOn tries both halves of the day if they are open.
func (w *when) clockOn(day date, now time.Time) moment {
	c, next := w.clock.plain(w.part, w.hasPart)
	if next {
		day = day.plus(1)
	}
	hours := []int{c.h}
	if c.half {
		hours = []int{c.h % 12, c.h%12 + 12}
	}
	past := w.before(day, c, hours, now)
	switch {
	case len(past) == 0 && w.hasDate:
		return moment{[]time.Time{now}, Future}
	case len(past) == 0:
		eve := w.before(day.plus(-1), c, hours, now)
		return moment{append(eve[len(eve)-1:], now), Future}
	case len(past) == 2 && day != dateOf(now):
		return moment{past, WhichTime}
	}
	return moment{times: past[len(past)-1:]}
}

// before is c at each of hours on day, without those still to come.
func (w *when) before(day date, c clock, hours []int, now time.Time) []time.Time {
	var past []time.Time
	for _, h := range hours {
		c.h = h
		t := day.at(c, now.Location(), now)
		switch {
		case t.After(now.Add(ahead)):
		case t.After(now):
			past = append(past, now)
		default:
			past = append(past, t)
		}
	}
	return past
}
