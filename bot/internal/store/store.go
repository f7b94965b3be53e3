// Package store is the port to the ledger: what was accepted and what is to be posted, on disk.
//
// The ledger is a list of entries that only grows; an entry can be voided but never changed. Notices that an
// entry made due are written in the same transaction. Times are UTC with millisecond precision.
package store

import (
	"context"
	"errors"
	"iter"
	"time"

	"tarebell/forecast/unit/record"
)

// Entry is an accepted event: a weighing, or something that somebody did or said.
type Entry struct {
	Seq int64  // order of acceptance, given by the store, rising from 1
	Key string // the same key is accepted once
	record.Event
	Received time.Time
	Account  string // of By in the chat; "" the scale
	Text     string // as typed
	Voided   bool
}

// State is where an outgoing message stands.
type State string

// The states of an Outgoing.
const (
	Waiting State = "waiting" // to be posted at Next
	Posting State = "posting" // claimed: a post may or may not have happened
	Posted  State = "posted"
	Failed  State = "failed"  // trying again cannot mend it; said in the log
	Dropped State = "dropped" // will not be shown; Err says why, if it was not overtaken by a newer notice
)

// Outgoing is a notice on its way to the channel.
type Outgoing struct {
	ID       int64  // given by the store
	Key      string // item + reason + occasion: the same key is posted once
	Kind     string
	Group    string // what waits is dropped for a newer one of its group; empty: never
	Edits    string // Key of an earlier notice that whose message this one changes in place, or else not at all
	Urgent   bool   // goes first, ignores quiet hours
	Created  time.Time
	Due      time.Time // when it was meant to be read; zero: Created
	Next     time.Time // not before; zero: Due
	Attempts int
	State    State
	Unsure   bool   // an earlier attempt may have been shown: look before posting again
	Refused  int    // how often it was refused until something is changed
	Posted   string // the platform's id of the message
	Err      string
	Payload  []byte // the message as JSON
}

// Position is a place in the order (At, Seq) of entries. The zero value lies before them all.
type Position struct {
	At  time.Time
	Seq int64
}

// Checkpoint is the state of the engine after all entries up to a moment. The store forgets it when an entry of that past comes to the
// ledger or is voided.
type Checkpoint struct {
	Position        // At: the moment; Seq: of the newest entry then, given by the store
	Slot     int    // which earlier one it replaces
	Print    string // of the program and config that made it; a state under another one is forgotten
	State    []byte
}

// Batch is written in one transaction.
type Batch struct {
	Entries     []Entry
	Void        []int64 // Seq of entries to be voided
	Outgoing    []Outgoing
	Facts       map[string]string // small values to remember, by name
	Checkpoints []Checkpoint      // as of the end of the transaction
}

// Written says what a Batch did.
type Written struct {
	Entries  []Entry // as stored; Seq 0: the key was known, nothing changed
	Outgoing int     // how many were new
}

// Patience is how many attempts an urgent outgoing holds the others back. After that many it is more
// likely that something is wrong with this one than with the chat, and the others may pass.
const Patience = 20

// Refusals is after how many of them it is more likely that something is wrong with an outgoing than with the chat.
const Refusals = 3

// Answer is the Kind of an outgoing that is an answer to what somebody said, not a notice.
const Answer = "answer"

// ErrNotFound is returned for an entry or outgoing that is not there.
var ErrNotFound = errors.New("not found")

// ErrInUse is returned on opening a ledger that another process has open.
var ErrInUse = errors.New("in use by another process")

// ErrFull is returned when there is no room left to write. What was stored before is intact.
var ErrFull = errors.New("no space left")

// ErrDamaged is returned when a ledger cannot be read back as it was written.
var ErrDamaged = errors.New("damaged")

// ErrReplaced is returned when the ledger's file, or what is in it, was removed or replaced while it is open. Nothing is written any more.
var ErrReplaced = errors.New("removed or replaced while it is in use")

// Reader is a ledger to be read from one end to the other.
type Reader interface {
	// Entries are those after a position, in the order (At, Seq), voided ones included, up to the first error.
	Entries(ctx context.Context, after Position) iter.Seq2[Entry, error]
	Close() error
}

// Events are what stands in a ledger, in order of time; what was struck out is left out.
func Events(ctx context.Context, ledger Reader) iter.Seq2[record.Event, error] {
	return func(yield func(record.Event, error) bool) {
		for e, err := range ledger.Entries(ctx, Position{}) {
			if (err != nil || !e.Voided) && !yield(e.Event, err) {
				return
			}
		}
	}
}

// Store is the ledger and the outbox.
type Store interface {
	Reader
	Write(ctx context.Context, b Batch) (Written, error)
	// Known reports whether an entry with this key was accepted, voided or not.
	Known(ctx context.Context, key string) (bool, error)
	// Recent is the newest n entries of a kind (empty: any) that somebody made, newest acceptance first, voided ones
	// included. What a scale or a monitor said by itself does not count: a day of it would hide what people entered.
	Recent(ctx context.Context, kind record.Kind, n int) ([]Entry, error)
	Entry(ctx context.Context, seq int64) (Entry, error)

	// Claim takes the next outgoing that is due at now, urgent first, then oldest, and marks it Posting.
	// While an urgent one waits for another attempt, the others stay behind it; see Patience.
	Claim(ctx context.Context, now time.Time) (o Outgoing, ok bool, err error)
	// NextDue is the earliest time at which Claim could succeed; ok is false when nothing waits.
	NextDue(ctx context.Context) (at time.Time, ok bool, err error)
	// Settle records what became of a claimed outgoing (State, Next, Attempts, Unsure, Refused, Posted, Err).
	Settle(ctx context.Context, o Outgoing) error
	// Overtaken reports whether a newer outgoing of the same Group waits or was posted.
	Overtaken(ctx context.Context, o Outgoing) (bool, error)
	// Hasten makes due at now all that wait only because an attempt failed, and says how many those were.
	Hasten(ctx context.Context, now time.Time) (int, error)
	// Unsettled lists what was claimed by a process that died.
	Unsettled(ctx context.Context) ([]Outgoing, error)
	// Queue is how many outgoing wait or are claimed.
	Queue(ctx context.Context) (int, error)
	Outgoing(ctx context.Context, key string) (Outgoing, error)
	// History is the newest n outgoing that are no answers, newest first.
	History(ctx context.Context, n int) ([]Outgoing, error)

	Fact(ctx context.Context, name string) (string, bool, error)
	// Checkpoint is the newest of this print that lies before a time; zero: the newest of all.
	Checkpoint(ctx context.Context, print string, before time.Time) (c Checkpoint, ok bool, err error)
}
