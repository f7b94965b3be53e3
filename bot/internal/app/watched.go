package app

import (
	"context"
	"errors"
	"strings"
	"sync"

	"tarebell/bot/internal/store"
)

// watched is the ledger with an eye on whether it takes what is written, so that /healthz says so before the clock stumbles over it.
type watched struct {
	store.Store
	site    *Site
	changed func() // called when it begins to refuse

	mu    sync.Mutex
	cause string // why the last write failed; "" it did not
}

// Write implements store.Store.
func (w *watched) Write(ctx context.Context, b store.Batch) (store.Written, error) {
	done, err := w.Store.Write(ctx, b)
	w.note(err)
	if err == nil && done.Outgoing > 0 {
		w.site.said(b.Outgoing)
	}
	return done, err
}

// Settle implements store.Store.
func (w *watched) Settle(ctx context.Context, o store.Outgoing) error {
	err := w.Store.Settle(ctx, o)
	w.note(err)
	return err
}

// Known implements store.Store. That it can be read says nothing about writing.
func (w *watched) Known(ctx context.Context, key string) (bool, error) {
	known, err := w.Store.Known(ctx, key)
	if err != nil {
		w.note(err)
	}
	return known, err
}

func (w *watched) note(err error) {
	if errors.Is(err, context.Canceled) {
		return
	}
	text := ""
	if err != nil {
		text = err.Error()
	}
	w.mu.Lock()
	begins := w.cause == "" && text != ""
	w.cause = text
	w.mu.Unlock()
	if begins && w.changed != nil {
		w.changed()
	}
}

// trouble is why the ledger takes nothing; "" when it does.
func (w *watched) trouble() string {
	if s, ok := w.Store.(interface{ Trouble() error }); ok {
		if err := s.Trouble(); err != nil {
			return err.Error()
		}
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.cause
}

// factProbe is written to see whether the ledger takes anything again.
const factProbe = "probe"

// probeSize is as much as an entry with its notice takes: a disk may have room for less.
const probeSize = 32 << 10

// probe tries a ledger that refused, since nobody may write into it for hours.
func (w *watched) probe(ctx context.Context) error {
	if w.trouble() == "" {
		return nil
	}
	for _, text := range []string{strings.Repeat("-", probeSize), ""} {
		if _, err := w.Write(ctx, store.Batch{Facts: map[string]string{factProbe: text}}); err != nil {
			return err
		}
	}
	return nil
}
