// Package sources defines what every source of weighings brings: a Weighing, the checks it must pass, and
// the small port a program polls.
//
// An adapter (a scale read over HTTP, a weight typed in a chat, a recorded file, an invented household)
// turns whatever it reads into grams and Celsius at the door; pounds and kilograms do not get past it. What
// it cannot turn into a Weighing it reports as a *Failure that says what was read and what would be right.
package sources

import (
	"context"
	"time"

	"tarebell/forecast/unit/record"
)

// Weighing is one reading of one cylinder, with how it came in.
type Weighing struct {
	record.Event // of kind Weighed; Cylinder is "" when the source does not know which

	Received time.Time // when this program learned of it; earlier than At only where clocks differ
	Note     string    // what was odd about the reading but did it no harm, such as a temperature sensor that answered nonsense
}

// Source brings weighings one at a time.
type Source interface {
	// Poll returns the next weighing. A failed poll returns a *Failure and may be tried again later; a
	// source that will never bring another returns io.EOF. Poll returns soon after ctx is done.
	Poll(ctx context.Context) (Weighing, error)
}

// Key makes a repeat of a weighing harmless, where nothing outside names it better (a chat message has its own number): one cylinder has
// at most one weighing of one origin in one millisecond.
func Key(w record.Event) string {
	return string(w.Origin) + "/" + w.Cylinder + "/" + w.At.UTC().Format("2006-01-02T15:04:05.000Z")
}
