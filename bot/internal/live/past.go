package live

import (
	"context"
	"errors"
	"fmt"
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

// rebuild makes a new engine from the ledger as it would be with change, up to the moment reached. It returns the warnings of the
// last days of that past. After an error the engine is the one it was.
func (h *House) rebuild(ctx context.Context, change store.Batch) (late []notice.Notice, err error) {
	engine := household.New(h.opt.Household)
	hear := func(said []notice.Notice) {
		late = slices.DeleteFunc(append(late, said...), func(n notice.Notice) bool {
			return n.Severity <= notice.Info || n.Follows != "" || engine.Now().Sub(n.At) >= lateNotice
		})
	}
	strangers := map[string]int{}
	err = h.standing(ctx, change, func(e store.Entry) error {
		if !h.has(e.Cylinder) {
			strangers[e.Cylinder]++
		}
		hear(engine.Tell(e.Event))
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("rebuilding from the ledger: %w", err)
	}
	reached, err := h.reached(ctx)
	if err != nil {
		return nil, err
	}
	if !reached.IsZero() {
		hear(engine.Advance(reached))
	}
	h.engine, h.broken = engine, false
	h.strangers = slices.Sorted(maps.Keys(strangers))
	h.leftOut(strangers)
	return late, nil
}

// has reports whether the config has a cylinder.
func (h *House) has(cylinder string) bool {
	return cylinder == "" || slices.ContainsFunc(h.opt.Household.Cylinders, func(c household.Cylinder) bool { return c.Name == cylinder })
}

// leftOut logs, once, what the ledger holds of cylinders that the config does not have any more.
func (h *House) leftOut(strangers map[string]int) {
	if h.warned {
		return
	}
	h.warned = true
	for _, name := range slices.Sorted(maps.Keys(strangers)) {
		h.opt.Log.Warn("entries of a cylinder that is not in the config are left out; if it was only renamed, give it its old name", "cylinder", name, "entries", strangers[name])
	}
}

// standing goes through the entries that count once change is written, in the order of the ledger: by time, and of the same time as
// they were accepted.
func (h *House) standing(ctx context.Context, change store.Batch, yield func(store.Entry) error) error {
	rest := change.Entries
	err := h.opt.Store.Entries(ctx, 0, func(e store.Entry) error {
		for ; len(rest) > 0 && rest[0].At.Before(e.At); rest = rest[1:] {
			if err := yield(rest[0]); err != nil {
				return err
			}
		}
		if e.Voided || slices.Contains(change.Void, e.Seq) {
			return nil
		}
		return yield(e)
	})
	for ; err == nil && len(rest) > 0; rest = rest[1:] {
		err = yield(rest[0])
	}
	return err
}

func (h *House) reached(ctx context.Context) (time.Time, error) {
	text, ok, err := h.opt.Store.Fact(ctx, FactReached)
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
	late, err := h.rebuild(ctx, b)
	if err != nil {
		return store.Entry{}, err
	}
	h.broken = true
	if late, err = h.untold(ctx, late); err != nil {
		return store.Entry{}, err
	}
	w, err := h.write(ctx, b, late)
	if err != nil {
		return store.Entry{}, err
	}
	h.broken = false
	if len(w.Entries) == 0 {
		return store.Entry{}, nil
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
	now := h.engine.Now()
	return slices.DeleteFunc(late, func(n notice.Notice) bool {
		g := group(n)
		return g != "" && slices.ContainsFunc(told, func(o store.Outgoing) bool {
			return o.Group == g && o.State != store.Failed && o.State != store.Dropped && now.Sub(o.Due) < lateNotice
		})
	}), nil
}
