package app

import (
	"context"
	"errors"
	"iter"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/replay"
	"tarebell/bot/internal/store"
)

// errEnough ends the reading of a ledger early.
var errEnough = errors.New("enough")

// History is what stands in a ledger, in order of time, as replay takes it; what was struck out is left out.
func History(ctx context.Context, ledger store.Reader, o household.Options) iter.Seq2[replay.Input, error] {
	return func(yield func(replay.Input, error) bool) {
		err := ledger.Entries(ctx, store.Position{}, func(e store.Entry) error {
			if e.Voided {
				return nil
			}
			in, err := entered(e, o)
			if err == nil && !yield(in, nil) {
				return errEnough
			}
			return err
		})
		if err != nil && !errors.Is(err, errEnough) {
			yield(replay.Input{}, err)
		}
	}
}

func entered(e store.Entry, o household.Options) (replay.Input, error) {
	name := o.Cylinders[0].Name
	if e.Kind == store.Weighing {
		w := live.Reading(live.ToWeighing(e), name)
		return replay.Input{Weighing: &w}, nil
	}
	r, err := live.ToRecorded(e)
	ev := live.FromRecorded(r, name)
	return replay.Input{Event: &ev}, err
}
