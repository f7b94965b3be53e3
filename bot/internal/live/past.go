package live

import (
	"context"
	"errors"
	"fmt"
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

// rebuild makes a new engine from the ledger, up to the moment reached, and returns the notices of that past.
func (h *House) rebuild(ctx context.Context) ([]notice.Notice, error) {
	engine := household.New(h.opt.Household)
	var past []notice.Notice
	err := h.opt.Store.Entries(ctx, 0, func(e store.Entry) error {
		if e.Voided {
			return nil
		}
		said, err := feed(engine, e)
		past = append(past, said...)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("rebuilding from the ledger: %w", err)
	}
	reached, err := h.reached(ctx)
	if err != nil {
		return nil, err
	}
	if !reached.IsZero() {
		past = append(past, engine.Advance(reached)...)
	}
	h.engine, h.broken = engine, false
	return past, nil
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

// stalePast is how old a notice may be that the very first entry brings about.
const stalePast = 24 * time.Hour

// catchUp lets time pass from the very first entry until now. Who starts with a weight of last month was told nothing then, and need not
// be told now what would have been said on the way.
func (h *House) catchUp(now time.Time) []notice.Notice {
	return slices.DeleteFunc(h.engine.Advance(now), func(n notice.Notice) bool { return now.Sub(n.At) > stalePast })
}

// Void strikes an entry out, as if it had never been made.
func (h *House) Void(ctx context.Context, seq int64) (store.Entry, error) {
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

// ErrVoided says that an entry had already been struck out.
var ErrVoided = errors.New("already undone")

// correct changes the past: it writes b, rebuilds, and hands on what only now turns out to have deserved a
// warning lately. Everything else that the past said stays said.
func (h *House) correct(ctx context.Context, b store.Batch) (store.Entry, error) {
	h.broken = true
	w, err := h.opt.Store.Write(ctx, b)
	if err != nil {
		return store.Entry{}, err
	}
	past, err := h.rebuild(ctx)
	if err != nil {
		return store.Entry{}, err
	}
	now := h.engine.Now()
	var late []notice.Notice
	for _, n := range past {
		if n.Severity > notice.Info && n.Follows == "" && now.Sub(n.At) < lateNotice {
			late = append(late, n)
		}
	}
	if _, err := h.write(ctx, store.Batch{}, late); err != nil {
		return store.Entry{}, err
	}
	if len(w.Entries) == 0 {
		return store.Entry{}, nil
	}
	return w.Entries[0], nil
}
