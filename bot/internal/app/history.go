package app

import (
	"context"
	"iter"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// History is what stands in a ledger, in order of time; what was struck out is left out.
func History(ctx context.Context, ledger store.Reader) iter.Seq2[record.Event, error] {
	return func(yield func(record.Event, error) bool) {
		for e, err := range ledger.Entries(ctx, store.Position{}) {
			if (err != nil || !e.Voided) && !yield(e.Event, err) {
				return
			}
		}
	}
}
