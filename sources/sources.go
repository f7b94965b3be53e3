// Package sources defines the small port through which a program polls for weighings, and the checks that every weighing must pass.
//
// An adapter (a scale read over HTTP, a weight typed in a chat, a recorded file, an invented household)
// turns whatever it reads into grams and Celsius at the door; pounds and kilograms do not get past it. What
// it cannot turn into a record.Event it reports as a *Failure that says what was read and what would be right.
package sources

import (
	"context"

	"tarebell/forecast/unit/record"
)

// Source brings weighings one at a time.
type Source interface {
	// Poll returns the next weighing, an event of kind Weighed; its Cylinder is "" when the source does not know which. A failed poll returns a *Failure and may be tried again later; a
	// source that will never bring another returns io.EOF. Poll returns soon after ctx is done.
	Poll(ctx context.Context) (record.Event, error)
}

// Key makes a repeat of a weighing harmless, where nothing outside names it better (a chat message has its own number): one cylinder has
// at most one weighing of one origin in one millisecond.
func Key(w record.Event) string {
	return string(w.Origin) + "/" + w.Cylinder + "/" + w.At.UTC().Format("2006-01-02T15:04:05.000Z")
}
