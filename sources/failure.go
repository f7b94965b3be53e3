package sources

import (
	"fmt"
	"time"
)

// Kind sorts failures by what somebody would do about them.
type Kind string

// The kinds.
const (
	Unreachable Kind = "unreachable" // no answer: off, hung, wrong address
	Refused     Kind = "refused"     // answered, but with an HTTP error, a redirect or a demand to log in
	Unreadable  Kind = "unreadable"  // answered with something that holds no weight
	Nonsense    Kind = "nonsense"    // a number that cannot be a weighing
	Stale       Kind = "stale"       // a weighing that came before, for too long
)

// Failure is a poll, an entry or a line that gave no weighing. Its text is bounded and carries no secret.
type Failure struct {
	Kind Kind
	Item string // the cylinder, if known
	Read string // what was read
	Want string // what would be right
	Err  error  // the cause for programs, such as context.DeadlineExceeded; show Error, not its text

	After time.Duration // how long the other side asked to be left alone; 0 it did not
}

// Error is one line: the item, what was read, what would be right.
func (f *Failure) Error() string {
	s := f.Read
	if f.Item != "" {
		s = fmt.Sprintf("%s: %s", f.Item, s)
	}
	if f.Want != "" {
		s += "; " + f.Want
	}
	return s
}

// Unwrap gives the cause to errors.Is and errors.As.
func (f *Failure) Unwrap() error { return f.Err }
