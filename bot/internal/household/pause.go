package household

import "time"

// Pause is a time in which no reading could come in, whatever the scale did: the program was off, the machine slept, the ledger took
// nothing, or a clock that was wrong was set.
type Pause struct{ From, To time.Time }

// Paused sets the pauses that are known, in order of time. They do not count as silence of a scale.
func (e *Engine) Paused(all []Pause) {
	for _, it := range e.items {
		it.pauses = all
	}
}

// silentAt is when the scale will have been silent for long enough to be told.
func (it *item) silentAt() time.Time {
	at := it.heard.Add(it.site.SilentAfter)
	for _, p := range it.pauses {
		if p.From.Before(at) && p.To.After(it.heard) {
			at = at.Add(min(p.To.Sub(p.From), p.To.Sub(it.heard)))
		}
	}
	return at
}
