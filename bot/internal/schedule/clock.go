package schedule

import "time"

// clock is what a clock on the wall shows at t, written as if it were UTC, so that it can be counted with.
func clock(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
}

// instant is when a clock in loc shows c: the first time if it does so twice, and the moment of the jump if it
// never does.
func instant(c time.Time, loc *time.Location) time.Time {
	y, m, d := c.Date()
	t := time.Date(y, m, d, c.Hour(), c.Minute(), c.Second(), c.Nanosecond(), loc)
	start, end := t.ZoneBounds()
	switch shown := clock(t); {
	case shown.After(c): // t lies after a jump over c
		return start
	case shown.Before(c): // t lies before a jump over c
		return end
	}
	if start.IsZero() {
		return t
	}
	_, before := start.Add(-1).Zone()
	if first := c.Add(-time.Duration(before) * time.Second).In(loc); first.Before(start) {
		return first
	}
	return t
}

// DaysBetween counts the midnights from a to b in loc.
func DaysBetween(a, b time.Time, loc *time.Location) int {
	midnight := func(t time.Time) time.Time { return clock(t.In(loc)).Truncate(24 * time.Hour) }
	return int(midnight(b).Sub(midnight(a)) / (24 * time.Hour))
}
