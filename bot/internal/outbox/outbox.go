// Package outbox delivers notices: each one once, dangers first, however often the chat, the network or this
// program fails in between.
//
// A notice lies in the store before anybody knows of it. It is claimed, posted and settled, in this order, and every
// step can be the last one of a process:
//
//   - claimed, not posted, not settled: found as unsettled on the next start; the channel is asked whether it
//     has the notice, says no, and the notice is posted;
//   - posted, not settled: the channel says yes, and the notice is settled without another post;
//   - an attempt that ended without a clear answer (time-out, broken connection, server error) is treated
//     the same way, and so is the ordinary retry: look first, then post, always under the same Message.ID.
//
// Nothing is polled while nothing waits: Run sleeps until Wake or the time of the next attempt.
package outbox

import (
	"cmp"
	"context"
	"log/slog"
	"sync"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// Options is what an Outbox works with. Store and Channel are needed, the rest may be left out.
type Options struct {
	Store   store.Store
	Channel chat.Poster
	Now     func() time.Time // nil: time.Now
	Log     *slog.Logger     // nil: no log
	// Quiet reports whether the household wants to hear only dangers at t, and until when. nil: never.
	Quiet func(t time.Time) (until time.Time, quiet bool)
	Zone  *time.Location // for the true time of a late notice; nil: UTC
	// Failed is called after a notice was refused; o.Refused counts how often. nil: nobody
	Failed func(ctx context.Context, o store.Outgoing, err error)
}

// attemptTimeout bounds one attempt.
const attemptTimeout = 20 * time.Second

// Outbox delivers the notices of a store. Its methods may be called from several goroutines.
type Outbox struct {
	opt  Options
	wake chan struct{}

	mu      sync.Mutex           // held while delivering
	begun   bool                 // what a dead process left was taken over
	unsaved *store.Outgoing      // attempted, but the store could not be told yet
	hold    time.Time            // the platform wants nothing before; what is urgent is tried all the same
	tried   map[string]time.Time // by key, when a notice may have been posted first, as far as this process knows
	trouble bool                 // something failed since the last success
	logged  string               // the error last logged

	healthMu sync.Mutex
	health   Health
	waits    map[string]store.Outgoing // by key, what was tried and is not there yet
}

// New prepares an Outbox; Run or Flush delivers.
func New(o Options) *Outbox {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Quiet == nil {
		o.Quiet = func(time.Time) (time.Time, bool) { return time.Time{}, false }
	}
	if o.Zone == nil {
		o.Zone = time.UTC
	}
	return &Outbox{opt: o, wake: make(chan struct{}, 1), trouble: true, tried: map[string]time.Time{}, waits: map[string]store.Outgoing{}}
}

// Wake says that a notice was committed. It never blocks.
func (b *Outbox) Wake() {
	select {
	case b.wake <- struct{}{}:
	default:
	}
}

// longestSleep bounds one sleep while something waits, because a timer does not count the time during which
// the machine itself slept and knows nothing of a clock that was set.
const longestSleep = time.Minute

// Run delivers until ctx ends.
func (b *Outbox) Run(ctx context.Context) {
	for fails := 0; ctx.Err() == nil; {
		next, err := b.deliverDue(ctx)
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			fails++
			next = b.opt.Now().Add(urgentGaps.After(fails))
			b.complain("the outbox cannot be read or written", err, "next_try", next)
		default:
			fails = 0
		}
		b.sleep(ctx, next)
	}
}

// sleep ends at next (zero: never), on Wake, or when ctx ends.
func (b *Outbox) sleep(ctx context.Context, next time.Time) {
	for {
		var over <-chan time.Time
		if !next.IsZero() {
			left := next.Sub(b.opt.Now())
			if left <= 0 {
				return
			}
			over = time.After(min(left, longestSleep))
		}
		select {
		case <-ctx.Done():
			return
		case <-b.wake:
			return
		case <-over:
		}
	}
}

// Flush delivers everything that is due now, each once, and returns. What failed or must wait stays in the
// store. The error is that of the store; those of the channel are logged.
func (b *Outbox) Flush(ctx context.Context) error {
	_, err := b.deliverDue(ctx)
	return err
}

// deliverDue delivers what is due and returns when there will be more to do, zero for never.
func (b *Outbox) deliverDue(ctx context.Context) (next time.Time, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for more := true; more && err == nil; {
		more, err = b.step(ctx)
	}
	if err != nil {
		return time.Time{}, err
	}
	next, _, err = b.opt.Store.NextDue(ctx) // zero when nothing waits
	return next, err
}

// step attempts one notice; more is false when none is due.
func (b *Outbox) step(ctx context.Context) (more bool, err error) {
	if err := b.takeOver(ctx); err != nil {
		return false, err
	}
	if err := b.save(ctx); err != nil {
		return false, err
	}
	now := b.opt.Now()
	o, ok, err := b.opt.Store.Claim(ctx, now)
	if err != nil || !ok {
		return false, err
	}
	o, cause, err := b.attempt(ctx, o, now)
	if err != nil { // only the store can have failed: the notice goes back untouched
		o.State, cause = store.Waiting, nil
	}
	b.unsaved = &o
	err = cmp.Or(err, b.save(context.WithoutCancel(ctx)))
	b.report(ctx, o, cause)
	if err == nil && o.State == store.Posted && b.trouble {
		err = b.recover(ctx)
	}
	return ctx.Err() == nil, err
}

// recover makes up for an outage at the first success after it: what waits for its next attempt has it now.
func (b *Outbox) recover(ctx context.Context) error {
	b.trouble = false
	_, err := b.opt.Store.Hasten(ctx, b.opt.Now())
	return err
}

// takeOver puts back in line what a process that died had claimed. Whether it was posted nobody knows.
func (b *Outbox) takeOver(ctx context.Context) error {
	if b.begun {
		return nil
	}
	list, err := b.opt.Store.Unsettled(ctx)
	if err != nil {
		return err
	}
	for _, o := range list {
		o.State, o.Unsure, o.Next = store.Waiting, true, b.opt.Now()
		if err := b.opt.Store.Settle(ctx, o); err != nil {
			return err
		}
		b.opt.Log.Info("a notice was left unsettled, looking whether it was posted", "notice", o.Key)
	}
	b.begun = true
	return nil
}

// save tells the store what became of a notice. What it cannot write is kept for the next time: until then
// the store shows the notice as claimed, so that nobody posts it again.
func (b *Outbox) save(ctx context.Context) error {
	if b.unsaved == nil {
		return nil
	}
	err := b.opt.Store.Settle(ctx, *b.unsaved)
	if err == nil {
		b.unsaved = nil
	}
	return err
}
