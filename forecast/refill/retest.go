package refill

import "time"

// Period is how often a kind of cylinder must be inspected and tested to be filled again.
type Period struct {
	Rule, Cylinder string
	Years          int
	FromMemory     bool // the rule could not be read
}

// Periods are the periods that concern CO2. Longer ones that the first rule grants for other gases (star after
// the test date) or fire extinguishers are left out: pure CO2 is not among those gases (from memory).
func Periods() []Period {
	return []Period{
		{"49 CFR 180.209(a) table 1", "DOT 3A / 3AA", 5, false},
		{"49 CFR 180.209(a) table 1", "DOT 3AL (aluminium)", 5, false},
		{"49 CFR 180.209(a) table 1", "DOT 3AX / 3AAX", 5, false},
		{"49 CFR 180.209(a) table 1", "DOT 3T", 5, false},
		{"49 CFR 180.209(a) table 1", "DOT 3HT", 3, false},
		{"ADR / UN P200 table 2", "UN 1013 carbon dioxide", 10, true},
	}
}

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
