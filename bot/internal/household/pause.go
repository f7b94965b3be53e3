package household

import (
	"sort"
	"time"
)

// Pause is a time in which no reading could come in, whatever the scale did: the program was off, the machine slept, the ledger took
// nothing, or a clock that was wrong was set.
type Pause struct{ From, To time.Time }

// Paused sets the pauses that are known, in order of time. They do not count as silence of a scale.
func (e *Engine) Paused(all []Pause) {
	for _, c := range e.cylinders {
		c.scale.pauses = all
	}
}

// after is when a scale that was heard last at heard has been silent for d, not counting pauses.
func after(heard time.Time, d time.Duration, pauses []Pause) time.Time {
	at := heard.Add(d)
	first := sort.Search(len(pauses), func(i int) bool { return pauses[i].To.After(heard) })
	for _, p := range pauses[first:] {
		if !p.From.Before(at) {
			break
		}
		at = at.Add(min(p.To.Sub(p.From), p.To.Sub(heard)))
	}
	return at
}
