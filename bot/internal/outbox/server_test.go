package outbox

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// fault is what goes wrong with one request.
type fault int

const (
	fine       fault = iota
	limited          // 429
	broken           // 500, nothing stored
	brokenLate       // 500, stored
	reset            // connection reset, nothing stored
	resetLate        // connection reset, stored
	hang             // no answer within the time-out, nothing stored
	hangLate         // no answer, stored a while after we gave up
	killBefore       // the process dies before the request
	killAfter        // the process dies after the server stored the message, before it hears of it
	faults
)

func (f fault) String() string {
	return [...]string{"fine", "429", "500", "500 stored", "reset", "reset stored", "hang", "hang stored", "kill", "kill stored"}[f]
}

// killed is the panic that stands for SIGKILL.
type killed struct{}

// nonceMemory is for how long the platform remembers the number of a message: "the past few minutes".
const nonceMemory = 5 * time.Minute

// request is one call of Post as the server saw it.
type request struct {
	id       string
	urgent   bool
	at       time.Time
	storedAt time.Time // zero: not stored by this request
}

// server is a chat platform with a clock of its own: it stores messages, knows the numbers of recent ones,
// and fails as planned.
type server struct {
	now     time.Time
	plan    []fault
	posts   []request // what stands in the channel
	pending []request // will be stored at storedAt
	sends   []request // all requests
	inside  func()    // something that happens while a post is under way
	edits   map[string]string
	hits    [faults]int // requests by what became of them
}

// next takes a fault from the plan.
func (s *server) next() fault {
	if len(s.plan) == 0 {
		return fine
	}
	f := s.plan[0]
	s.plan = s.plan[1:]
	s.hits[f]++
	return f
}

// advance lets time pass and what was under way arrive.
func (s *server) advance(d time.Duration) {
	s.now = s.now.Add(d)
	due := slices.Clone(s.pending)
	s.pending = nil
	slices.SortFunc(due, func(a, b request) int { return a.storedAt.Compare(b.storedAt) })
	for _, r := range due {
		if r.storedAt.After(s.now) {
			s.pending = append(s.pending, r)
		} else {
			s.store(r)
		}
	}
}

// store keeps r unless its number was used within nonceMemory.
func (s *server) store(r request) string {
	r.storedAt = cmp.Or(r.storedAt, s.now)
	for i, p := range s.posts {
		if p.id == r.id && r.storedAt.Sub(p.storedAt) < nonceMemory {
			return fmt.Sprint("p", i)
		}
	}
	s.posts = append(s.posts, r)
	return fmt.Sprint("p", len(s.posts)-1)
}

func (s *server) Post(_ context.Context, m chat.Message) (string, error) {
	r := request{id: m.ID, urgent: m.Severity == chat.Danger, at: s.now}
	s.sends = append(s.sends, r)
	f := s.next()
	if f == killBefore {
		panic(killed{})
	}
	if s.inside != nil {
		do := s.inside
		s.inside = nil
		do()
	}
	s.advance(100 * time.Millisecond)
	if f == fine || f == brokenLate || f == resetLate || f == killAfter {
		where := s.store(r)
		if f == fine {
			return where, nil
		}
	}
	if f == hangLate {
		r.storedAt = s.now.Add(attemptTimeout + 30*time.Second)
		s.pending = append(s.pending, r)
	}
	return "", s.fail(f)
}

// fail is the error of f for any request.
func (s *server) fail(f fault) error {
	switch f {
	case limited:
		return &chat.Refusal{Status: 429, Message: "too many requests", After: 7 * time.Second}
	case broken, brokenLate:
		return errors.New("500 internal server error")
	case reset, resetLate:
		return errors.New("connection reset by peer")
	case hang, hangLate:
		s.advance(attemptTimeout)
		return context.DeadlineExceeded
	case killBefore, killAfter:
		panic(killed{})
	}
	return nil
}

func (s *server) Find(_ context.Context, id string, since time.Time) (string, bool, error) {
	s.advance(50 * time.Millisecond)
	if err := s.fail(s.next()); err != nil {
		return "", false, err
	}
	for i, p := range s.posts {
		if p.id == id && !p.storedAt.Before(since) {
			return fmt.Sprint("p", i), true, nil
		}
	}
	return "", false, nil
}

func (s *server) Edit(_ context.Context, posted string, m chat.Message) error {
	s.advance(50 * time.Millisecond)
	if err := s.fail(s.next()); err != nil {
		return err
	}
	if s.edits == nil {
		s.edits = map[string]string{}
	}
	s.edits[posted] = m.ID
	return nil
}

// flaky is a store under a process that may die at its steps.
type flaky struct {
	store.Store
	plan []bool // die at this step
}

func (f *flaky) dies() bool {
	if len(f.plan) == 0 {
		return false
	}
	die := f.plan[0]
	f.plan = f.plan[1:]
	return die
}

// Claim may be the last thing a process does.
func (f *flaky) Claim(ctx context.Context, now time.Time) (store.Outgoing, bool, error) {
	o, ok, err := f.Store.Claim(ctx, now)
	if ok && f.dies() {
		panic(killed{})
	}
	return o, ok, err
}

// Settle may never be reached.
func (f *flaky) Settle(ctx context.Context, o store.Outgoing) error {
	if f.dies() {
		panic(killed{})
	}
	return f.Store.Settle(ctx, o)
}
