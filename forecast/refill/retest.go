package refill

import "time"

// Retest is the periodic inspection stamped on a cylinder: month and year, and how many years it holds. The zero
// value is unknown.
type Retest struct {
	Last  time.Time
	Years int
}

// Standing is where a cylinder stands with its periodic inspection.
type Standing int

// The standings.
const (
	NotKnown Standing = iota
	Good              // may be filled
	DueMonth          // the month in which it falls due: the supplier decides
	Expired           // must not be filled before it is tested; what is in it may be used up
)

// Due is the first day of the month in which the inspection falls due, in the zone of Last; zero when unknown.
func (r Retest) Due() time.Time {
	if r.Last.IsZero() || r.Years <= 0 {
		return time.Time{}
	}
	y, m, _ := r.Last.Date()
	return time.Date(y+r.Years, m, 1, 0, 0, 0, 0, r.Last.Location())
}

// On is the standing on a day. Stamps name months, not days: whether the month itself still counts, rules and
// suppliers see differently, so that it has a standing of its own. The supplier has the last word.
func (r Retest) On(day time.Time) Standing {
	due := r.Due()
	switch {
	case due.IsZero():
		return NotKnown
	case day.Before(due):
		return Good
	case day.Before(due.AddDate(0, 1, 0)):
		return DueMonth
	default:
		return Expired
	}
}
