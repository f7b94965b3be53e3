package app

import (
	"context"
	"errors"
	"iter"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// errEnough ends the reading of a ledger early.
var errEnough = errors.New("enough")

// History is what stands in a ledger, in order of time; what was struck out is left out.
func History(ctx context.Context, ledger store.Reader) iter.Seq2[record.Event, error] {
	return func(yield func(record.Event, error) bool) {
		err := ledger.Entries(ctx, store.Position{}, func(e store.Entry) error {
			if !e.Voided && !yield(e.Event, nil) {
				return errEnough
			}
			return nil
		})
		if err != nil && !errors.Is(err, errEnough) {
			yield(record.Event{}, err)
		}
	}
}
