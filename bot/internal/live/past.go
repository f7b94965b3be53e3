package live

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
)

// FactReached names the moment up to which every notice has been written.
const FactReached = "reached"

// lateNotice is how old a warning may be that only comes to light when the past is corrected.
const lateNotice = 3 * 24 * time.Hour

// recall brings the state to where the ledger stands.
func (h *House) recall(ctx context.Context) error {
	_, kept, err := h.rebuild(ctx, store.Batch{})
	if err != nil || len(kept) == 0 {
		return err
	}
	if _, err := h.opt.Store.Write(ctx, store.Batch{Checkpoints: kept}); err != nil { // they only save time
		h.opt.Log.Warn("checkpoints are not kept", "err", err)
	}
	return nil
}

// rebuild reaches the state that the ledger leads to as it would be with change, up to the moment reached: from the last checkpoint before
// the change, else from the beginning. It returns the warnings of the last days of that past, and the checkpoints on the way, which hold once the
// change is written. After an error the state is the one it was.
func (h *House) rebuild(ctx context.Context, change store.Batch) (late []notice.Notice, kept []store.Checkpoint, err error) {
	reached, err := Reached(ctx, h.opt.Store)
	if err != nil {
		return nil, nil, err
	}
	limit := h.limit()
	if reached.After(limit) {
		reached = limit.Add(-foresight)
	}
	before, err := h.changed(ctx, change)
	if err != nil {
		return nil, nil, err
	}
	if before.IsZero() || before.After(limit) {
		before = limit
	}
	now, from, err := h.restored(ctx, before, reached)
	if err != nil {
		return nil, nil, err
	}
	pauses, err := h.pauses(ctx, change)
	if err != nil {
		return nil, nil, err
	}
	now.Engine.Paused(slices.DeleteFunc(pauses, func(p household.Pause) bool { return p.To.After(limit) }))
	hear := func(said []notice.Notice) {
		late = slices.DeleteFunc(append(late, said...), func(n notice.Notice) bool {
			return n.Severity <= notice.Info || n.Follows != "" || now.Engine.Now().Sub(n.At) >= lateNotice
		})
	}
	saved, ahead := dayOf(from.At), time.Time{}
	for e, err := range h.standing(ctx, from, change) {
		if err = errors.Join(err, ctx.Err()); err != nil {
			return nil, nil, fmt.Errorf("rebuilding from the ledger: %w", err)
		}
		if e.At.After(limit) {
			ahead = e.At
			break
		}
		if day := dayOf(now.Engine.Now()); day > saved && day < dayOf(e.At) {
			kept, saved = append(kept, h.passed(now, e.At, reached)...), day
		}
		pass(now.Engine, e.At, hear)
		hear(h.feed(now, e))
	}
	if !reached.IsZero() {
		pass(now.Engine, reached, hear)
		hear(now.Engine.Advance(reached))
	}
	if !ahead.IsZero() && !ahead.Equal(h.ahead) {
		h.opt.Log.Warn("entries that lie in the future are left out until then; is the machine's clock right, or was it wrong then?", "first", ahead)
	}
	h.now, h.broken, h.saved, h.ahead = now, false, saved, ahead
	h.leftOut()
	return late, kept, nil
}

// pass lets the time up to a moment pass as it does while the program runs: from one thing that is due to the next.
func pass(e *household.Engine, until time.Time, hear func([]notice.Notice)) {
	for next := e.Next(); !next.IsZero() && next.Before(until); next = e.Next() {
		hear(e.Advance(next))
	}
}

// changed is the earliest moment that a change touches; zero: none.
func (h *House) changed(ctx context.Context, change store.Batch) (first time.Time, err error) {
	touch := func(at time.Time) {
		if first.IsZero() || at.Before(first) {
			first = at
		}
	}
	for _, e := range change.Entries {
		touch(e.At)
	}
	for _, seq := range change.Void {
		e, err := h.opt.Store.Entry(ctx, seq)
		if err != nil {
			return first, err
		}
		touch(e.At)
	}
	return first, nil
}

// feed gives an entry to the engine, and counts those of cylinders that the config does not have.
func (h *House) feed(now *state, e store.Entry) []notice.Notice {
	if !h.has(e.Cylinder) {
		now.Strangers[e.Cylinder]++
	}
	return now.Engine.Apply(e.Event)
}

// has reports whether the config has a cylinder.
func (h *House) has(cylinder string) bool {
	return cylinder == "" || slices.ContainsFunc(h.opt.Household.Cylinders, func(c household.Cylinder) bool { return c.Name == cylinder })
}

// leftOut logs, once, what the ledger holds of cylinders that the config does not have any more.
func (h *House) leftOut() {
	if h.warned {
		return
	}
	h.warned = true
	for _, name := range slices.Sorted(maps.Keys(h.now.Strangers)) {
		h.opt.Log.Warn("entries of a cylinder that is not in the config are left out; if it was only renamed, give it its old name", "cylinder", name, "entries", h.now.Strangers[name])
	}
}

// standing are the entries after a position that count once change is written, in the order of the ledger: by time, and of the same time
// as they were accepted.
func (h *House) standing(ctx context.Context, after store.Position, change store.Batch) iter.Seq2[store.Entry, error] {
	return func(yield func(store.Entry, error) bool) {
		rest := change.Entries
		for e, err := range h.opt.Store.Entries(ctx, after) {
			for ; err == nil && len(rest) > 0 && rest[0].At.Before(e.At); rest = rest[1:] {
				if !yield(rest[0], nil) {
					return
				}
			}
			if err == nil && (e.Voided || slices.Contains(change.Void, e.Seq)) {
				continue
			}
			if !yield(e, err) {
				return
			}
		}
		for _, e := range rest {
			if !yield(e, nil) {
				return
			}
		}
	}
}

// factPauses names the pauses, as JSON.
const factPauses = "pauses"

// pauses are the times in which no reading could come in, as the ledger holds them after a change.
func (h *House) pauses(ctx context.Context, change store.Batch) (all []household.Pause, err error) {
	text, ok := change.Facts[factPauses]
	if !ok {
		if text, ok, err = h.opt.Store.Fact(ctx, factPauses); err != nil || !ok {
			return nil, err
		}
	}
	if err := json.Unmarshal([]byte(text), &all); err != nil {
		return nil, fmt.Errorf("fact %q in the ledger: %w", factPauses, err)
	}
	return all, nil
}

const (
	// tooLate is by how much time passes too late for what is due if there is a pause.
	tooLate = 10 * time.Minute
	// mostPauses are remembered: a machine that sleeps every night has so many in nearly three years. Where one is forgotten, the past no longer leads to what it
	// led to then: a silence of that time counts.
	mostPauses = 1000
)

// leap adds a pause to a batch if what was due before a moment should long have been dealt with. The batch takes the state past the pause, so that the
// ledger holds none that lies ahead of it.
func (h *House) leap(ctx context.Context, to time.Time, b *store.Batch) error {
	from, next := h.now.Engine.Now(), h.now.Engine.Next()
	if next.IsZero() || to.Sub(next) < tooLate {
		return nil
	}
	all, err := h.pauses(ctx, store.Batch{})
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(p household.Pause) bool { return p.To.After(from) }) // the clock was wrong then
	all = append(all[max(0, len(all)-mostPauses+1):], household.Pause{From: from.UTC().Round(0), To: to.UTC().Round(0)})
	text, err := json.Marshal(all)
	if err != nil {
		return err
	}
	b.Facts = map[string]string{factPauses: string(text)}
	h.now.Engine.Paused(all)
	return nil
}

// Reached is the moment up to which every notice has been written; zero: none yet.
func Reached(ctx context.Context, ledger store.Store) (time.Time, error) {
	text, ok, err := ledger.Fact(ctx, FactReached)
	if err != nil || !ok {
		return time.Time{}, err
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		return time.Time{}, fmt.Errorf("fact %q in the ledger: %w", FactReached, err)
	}
	return t, nil
}

// Void strikes an entry out, as if it had never been made. As with Accept, the end of ctx does not cut it off.
func (h *House) Void(ctx context.Context, seq int64) (store.Entry, error) {
	ctx = context.WithoutCancel(ctx)
	h.mu.Lock()
	defer h.mu.Unlock()
	e, err := h.opt.Store.Entry(ctx, seq)
	if err != nil {
		return e, err
	}
	if e.Voided {
		return e, ErrVoided
	}
	_, err = h.correct(ctx, store.Batch{Void: []int64{seq}})
	return e, err
}

// Replace takes an entry in place of another, which is struck out in the same transaction. If that was struck out already, nothing
// changes and the error is ErrVoided.
func (h *House) Replace(ctx context.Context, seq int64, e store.Entry) (store.Entry, error) {
	old, err := h.opt.Store.Entry(context.WithoutCancel(ctx), seq)
	switch {
	case err != nil:
		return e, err
	case old.Voided:
		return e, ErrVoided
	}
	return h.accept(ctx, e, seq)
}

// ErrVoided says that an entry had already been struck out.
var ErrVoided = errors.New("already undone")

// correct changes the past: in one transaction it writes b and hands on what only now turns out to have deserved a
// warning lately. Everything else that the past said stays said.
func (h *House) correct(ctx context.Context, b store.Batch) (store.Entry, error) {
	late, kept, err := h.rebuild(ctx, b)
	if err != nil {
		return store.Entry{}, err
	}
	h.broken, b.Checkpoints = true, kept
	if late, err = h.untold(ctx, late); err != nil {
		return store.Entry{}, err
	}
	w, err := h.write(ctx, b, late)
	if err != nil || len(w.Entries) == 0 {
		return store.Entry{}, err
	}
	return w.Entries[0], nil
}

// untold leaves out what the household was told of in these days already, at another moment: a corrected past comes to the same
// reminder some hours sooner or later than the day itself did. A leak is an occasion of its own, see group.
func (h *House) untold(ctx context.Context, late []notice.Notice) ([]notice.Notice, error) {
	if len(late) == 0 {
		return nil, nil
	}
	told, err := h.opt.Store.History(ctx, lately)
	if err != nil {
		return nil, fmt.Errorf("looking for what was told lately: %w", err)
	}
	now := h.now.Engine.Now()
	return slices.DeleteFunc(late, func(n notice.Notice) bool {
		g := group(n)
		return g != "" && slices.ContainsFunc(told, func(o store.Outgoing) bool {
			return o.Group == g && o.State != store.Failed && o.State != store.Dropped && now.Sub(o.Due) < lateNotice
		})
	}), nil
}
