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

	"tarebell/forecast/unit"
)

// Origin says how a weighing came about.
type Origin string

// The origins.
const (
	Scale  Origin = "scale"  // read from a scale by the program
	Manual Origin = "manual" // typed by somebody
)

// Weighing is one reading of one cylinder.
type Weighing struct {
	Item  string     // the cylinder's name in the config; "" when the source does not know which
	Gross unit.Grams // what the platform carried: cylinder, gas and fittings; the gas alone if Net
	Net   bool       // somebody typed the net weight
	SD    unit.Grams // 1 sigma of Gross as the source knows it; 0 unknown

	Temp    unit.Celsius // at the scale; meaningful if HasTemp
	HasTemp bool

	At       time.Time // when it was weighed
	Received time.Time // when this program learned of it; never earlier than At but for clock skew
	Origin   Origin
	By       string // who typed it, as the chat names them; "" for a scale

	// Key makes a repeat harmless: two weighings with the same key are the same weighing. See Key.
	Key string

	// Note says what was odd about the reading but did it no harm, such as a temperature sensor that
	// answered nonsense; for the log.
	Note string
}

// Source brings weighings one at a time.
type Source interface {
	// Poll returns the next weighing. A failed poll returns a *Failure and may be tried again later; a
	// source that will never bring another returns io.EOF. Poll returns soon after ctx is done.
	Poll(ctx context.Context) (Weighing, error)
}

// Key is the key of a weighing that nothing outside names better (a chat message has its own number): one
// item has at most one weighing of one origin in one millisecond.
func Key(o Origin, item string, at time.Time) string {
	b := make([]byte, 0, 64)
	b = append(append(append(append(b, o...), '/'), item...), '/')
	return string(at.UTC().AppendFormat(b, "2006-01-02T15:04:05.000Z"))
}
