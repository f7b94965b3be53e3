// Package live keeps the household engine and the ledger in step while the program runs.
//
// Whatever is accepted goes through the engine first, and the entry, the notices it made due and the moment
// reached are then written in one transaction. Only after that is anything acknowledged. If the write fails
// nothing was accepted, and the engine is rebuilt from the ledger. Because the moment reached stands in the
// same transaction as the notices, a restart knows exactly which notices were already handed to the outbox.
package live

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/outbox"
	"tarebell/bot/internal/store"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// Options is what a House stands on.
type Options struct {
	Household household.Options
	Store     store.Store
	Compose   func(notice.Notice) ([]byte, error) // the message for the outbox, as JSON
	Wake      func()                              // called after something was written; nil: nobody
	Now       func() time.Time                    // nil: time.Now
	Log       *slog.Logger                        // nil: no log
	From      any                                 // pointer to what Household was made from, such as a config; nil: no checkpoints are kept
}

// House is a running household.
type House struct {
	opt    Options
	mu     sync.Mutex
	now    *state
	broken bool                    // the state is ahead of the ledger
	warned bool                    // that entries are left out
	print  string                  // of the program and From; empty: no checkpoints are kept
	saved  int64                   // the day of the newest checkpoint
	air    map[string]record.Event // last level of the air that was accepted, by cylinder
	ahead  time.Time               // the first entry left out because it lies in the future; zero: none
}

// Open rebuilds the household from its ledger.
func Open(ctx context.Context, o Options) (*House, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Wake == nil {
		o.Wake = func() {}
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	h := &House{opt: o, air: map[string]record.Event{}}
	h.now = h.fresh()
	h.print = h.printOf()
	if err := h.recall(ctx); err != nil {
		return h, err
	}
	return h, h.begin(ctx)
}

// begin lets the time between imported entries and the first start pass: a status of those days was never meant to be posted, and
// what is still to be said is meant for now.
func (h *House) begin(ctx context.Context) error {
	reached, err := Reached(ctx, h.opt.Store)
	now := h.opt.Now().UTC().Truncate(time.Millisecond)
	if err != nil || !reached.IsZero() || h.now.Engine.Now().IsZero() || !h.now.Engine.Now().Before(now) {
		return err
	}
	var b store.Batch
	if err := h.leap(ctx, now, &b); err != nil {
		return err
	}
	said := slices.DeleteFunc(h.now.Engine.Advance(now), func(n notice.Notice) bool { return n.Kind == notice.WeeklyStatus })
	for i := range said {
		said[i].At = now
	}
	_, err = h.write(ctx, b, said)
	return err
}

// foresight is how far an entry may lie in the future. One further ahead was made while the machine's clock was wrong, or it is wrong now.
const foresight = 24 * time.Hour

// limit is up to when the ledger is believed.
func (h *House) limit() time.Time { return h.opt.Now().Add(foresight) }

// mend rebuilds after a failed write, and when the machine's clock was set by more than foresight.
func (h *House) mend(ctx context.Context) error {
	set := h.now.Engine.Now().After(h.limit()) || !h.ahead.IsZero() && h.limit().After(h.ahead)
	if !h.broken && !set {
		return nil
	}
	return h.recall(ctx)
}

// Accept takes one entry: it is in the ledger, with all that follows from it, when Accept returns. An entry
// whose key is known changes nothing and comes back with Seq 0. The end of ctx does not cut it off: somebody who typed while the
// program was being stopped is told what became of it.
func (h *House) Accept(ctx context.Context, e store.Entry) (store.Entry, error) {
	return h.accept(ctx, e)
}

// accept takes an entry and strikes out those that it replaces.
func (h *House) accept(ctx context.Context, e store.Entry, void ...int64) (store.Entry, error) {
	ctx = context.WithoutCancel(ctx)
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.mend(ctx); err != nil {
		return e, err
	}
	kept, err := e.Kept() // as it will be read back
	if err != nil {
		return e, fmt.Errorf("entry %q: %w", e.Key, err)
	}
	e.Seq, e.Event, e.Received = 0, kept, e.Received.UTC().Truncate(time.Millisecond)
	if known, err := h.opt.Store.Known(ctx, e.Key); err != nil || known {
		return e, err
	}
	if h.now.Engine.Now().IsZero() { // time begins now, even if the first weight is one of last month
		if err := h.advance(ctx, later(e.At, e.Received)); err != nil {
			return e, err
		}
	}
	b := store.Batch{Entries: []store.Entry{e}, Void: void}
	if err := h.leap(ctx, e.At, &b); err != nil {
		return e, err
	}
	if len(void) > 0 || e.At.Before(h.now.Engine.Now()) {
		return h.correct(ctx, b)
	}
	w, err := h.write(ctx, b, h.feed(h.now, e))
	if err != nil {
		return store.Entry{}, err
	}
	return w.Entries[0], nil
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// Advance lets time pass until now.
func (h *House) Advance(ctx context.Context, now time.Time) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if err := h.mend(ctx); err != nil {
		return err
	}
	if next := h.now.Engine.Next(); next.After(now) {
		return nil
	}
	return h.advance(ctx, now)
}

func (h *House) advance(ctx context.Context, now time.Time) error {
	var b store.Batch
	if err := h.leap(ctx, now, &b); err != nil {
		return err
	}
	_, err := h.write(ctx, b, h.now.Engine.Advance(now))
	return err
}

// Next is when Advance next has something to do; zero: at once, as time has not begun.
func (h *House) Next() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.now.Engine.Next()
}

// Situation is how things stand with a cylinder (empty: the first) at now.
func (h *House) Situation(cylinder string, now time.Time) (notice.Situation, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s, ok := h.now.Engine.Situation(cylinder, now)
	s.Unlisted = slices.Sorted(maps.Keys(h.now.Strangers))
	return s, ok
}

// Account is what the gas has cost so far.
func (h *House) Account(now time.Time) notice.Account {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.now.Engine.Account(now)
}

// Pace is how soon the scale of a cylinder should be read again.
func (h *House) Pace(cylinder string) forecast.Pace {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.now.Engine.Pace(cylinder)
}

// Trouble takes down why a scale could not be read; "" when it could.
func (h *House) Trouble(cylinder, cause string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.now.Engine.Trouble(cylinder, cause)
}

// Doubtful reports that a cylinder's last reading wants to be repeated at once.
func (h *House) Doubtful(cylinder string) bool { return h.Pace(cylinder) == forecast.AtOnce }

// Entry is one entry of the ledger.
func (h *House) Entry(ctx context.Context, seq int64) (store.Entry, error) {
	return h.opt.Store.Entry(ctx, seq)
}

// Recent is the newest n entries of a kind (empty: any) that somebody made, voided ones included.
func (h *House) Recent(ctx context.Context, kind record.Kind, n int) ([]store.Entry, error) {
	return h.opt.Store.Recent(ctx, kind, n)
}

// write writes what has led to the state, with the notices, in one transaction. Until that has worked the state is ahead of the ledger.
func (h *House) write(ctx context.Context, b store.Batch, said []notice.Notice) (store.Written, error) {
	h.broken = true
	for _, n := range said {
		o, err := h.outgoing(n)
		if err != nil {
			return store.Written{}, err
		}
		b.Outgoing = append(b.Outgoing, o)
		if n.Ends {
			over, err := h.over(ctx, n.Follows)
			if err != nil {
				return store.Written{}, err
			}
			b.Outgoing = append(b.Outgoing, over...)
		}
	}
	if b.Facts == nil {
		b.Facts = map[string]string{}
	}
	b.Facts[FactReached] = h.now.Engine.Now().UTC().Format(time.RFC3339Nano)
	h.daily(&b)
	w, err := h.opt.Store.Write(ctx, b)
	if err != nil {
		return w, fmt.Errorf("writing the ledger: %w", err)
	}
	h.broken = false
	h.opt.Wake()
	return w, nil
}

// lately is how many notices are looked through for those of an occasion.
const lately = 64

// over marks what was told of an occasion as ended, where it stands, so that nobody takes an old alert for a new one.
func (h *House) over(ctx context.Context, occasion string) (marks []store.Outgoing, err error) {
	told, err := h.opt.Store.History(ctx, lately)
	if err != nil {
		return nil, fmt.Errorf("looking for what was told of %s: %w", occasion, err)
	}
	for _, o := range slices.Backward(told) {
		if o.Group != occasion || o.Edits != "" {
			continue
		}
		m, err := outbox.InPlace(o, "over", h.opt.Now(), func(m *chat.Message) {
			m.Headline, m.Body, m.Buttons, m.Severity = notice.Over(m.Headline), nil, nil, chat.Info
		})
		if err != nil { // the news matter more than the mark
			h.opt.Log.Warn("an alert that is over stays as it was", "err", err)
			continue
		}
		marks = append(marks, m)
	}
	return marks, nil
}

// group names what overtakes what: of several notices of a group that could not be posted only the newest is worth
// reading. Odd readings and fills stand for themselves.
func group(n notice.Notice) string {
	switch n.Kind {
	case notice.WeeklyStatus, notice.RefillDue, notice.WeighDue, notice.ScaleSilent, notice.RetestDue:
		return n.Cylinder + "/" + string(n.Kind)
	case notice.PossibleLeak:
		if n.Follows != "" {
			return n.Follows
		}
		return n.Key
	}
	return ""
}

func (h *House) outgoing(n notice.Notice) (store.Outgoing, error) {
	payload, err := h.opt.Compose(n)
	if err != nil {
		return store.Outgoing{}, fmt.Errorf("composing %s: %w", n.Key, err)
	}
	if !json.Valid(payload) {
		return store.Outgoing{}, fmt.Errorf("composing %s: not JSON", n.Key)
	}
	o := store.Outgoing{Key: n.Key, Kind: string(n.Kind), Urgent: n.Severity == notice.Danger,
		Created: h.opt.Now(), Due: n.At, State: store.Waiting, Payload: payload}
	o.Group = group(n)
	return o, nil
}
