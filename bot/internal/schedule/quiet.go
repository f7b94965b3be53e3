package schedule

import "time"

// Quiet is when the household wants to hear nothing that can wait. It begins at From and ends before To,
// both on the clock of the day, as time since midnight; From after To spans midnight. From equal to To:
// never. The clock's reading decides, also on the days of a clock change.
type Quiet struct {
	From, To time.Duration
	Location *time.Location // nil: UTC
}

// Until reports whether t lies in the quiet hours, and when these end.
func (q Quiet) Until(t time.Time) (end time.Time, quiet bool) {
	loc := q.Location
	if loc == nil {
		loc = time.UTC
	}
	c := clock(t.In(loc))
	midnight := c.Truncate(24 * time.Hour) // as UTC, days have 24 hours
	today := c.Sub(midnight)
	switch {
	case q.From < q.To && q.From <= today && today < q.To:
	case q.From > q.To && today < q.To:
	case q.From > q.To && q.From <= today:
		midnight = midnight.AddDate(0, 0, 1)
	default:
		return time.Time{}, false
	}
	end = instant(midnight.Add(q.To), loc)
	return end, end.After(t)
}
