// Package notice says things: it turns what the engine decided into words a household reads. It is pure:
// facts in, text out; it decides nothing and sends nothing.
//
// The rules for talking to people: the answer first, in one line that can be read aloud; then the reason. No
// jargon, no blame, no exclamation. Amounts are rounded to what the scale can know. A danger says what to do
// before what was measured. Nothing is ever called safe.
package notice

import (
	"strings"
	"time"
)

// Kind is what a notice is about; the words are part of the replay contract.
type Kind string

// The kinds of notices.
const (
	WeeklyStatus Kind = "weekly-status"
	RefillDue    Kind = "refill-due"
	WeighDue     Kind = "weigh-due"
	PossibleLeak Kind = "possible-leak"
	OddReading   Kind = "odd-reading"
	ScaleSilent  Kind = "scale-silent"
	FillSeen     Kind = "fill-seen"
	RetestDue    Kind = "retest-due"
)

// Severity orders notices by what may happen if nobody reads them.
type Severity int

// The severities, rising.
const (
	Info Severity = iota
	Warning
	Danger
)

// String is the word used in the replay records.
func (s Severity) String() string { return [...]string{"info", "warning", "danger"}[s] }

// Notice is one message to the household.
type Notice struct {
	Key      string // cylinder, kind and occasion: said once; whoever decides to say it sets this and Follows
	Follows  string // Key of the notice that this one repeats or continues; empty for a new one
	Ends     bool   // what Follows told is over
	Kind     Kind
	Cylinder string
	At       time.Time
	Severity Severity
	Headline string
	Body     []string
	Actions  []Action
	Picture  *Situation // to be drawn under the text; nil: none
}

// Action is something the reader can press.
type Action struct{ ID, Label string }

// Text is the notice as plain lines.
func (n Notice) Text() string {
	return strings.Join(append([]string{n.Headline}, n.Body...), "\n")
}
