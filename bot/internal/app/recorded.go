package app

import (
	"context"
	"fmt"
	"iter"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/replay"
	"tarebell/sources/recorded"
)

// Recorded opens recorded weighings, of the first cylinder where they name none, and events if a file is named, in order of time.
// The reading ends with ctx; close closes the files.
func Recorded(ctx context.Context, o household.Options, weighings, events string) (in iter.Seq2[replay.Input, error], close func(), err error) {
	f, err := recorded.Open(ctx, weighings)
	if err != nil {
		return nil, nil, fmt.Errorf("reading weighings: %w", err)
	}
	name := o.Cylinders[0].Name
	told, err := recordedEvents(ctx, name, events)
	if err != nil {
		f.Close()
		return nil, nil, err
	}
	seq := func(yield func(household.Weighing, error) bool) {
		for w, err := range recorded.Weighings(weighings, f) {
			if !yield(live.Reading(w, name), err) {
				return
			}
		}
	}
	return replay.Merge(seq, told), func() { f.Close() }, nil
}

func recordedEvents(ctx context.Context, cylinder, file string) ([]household.Event, error) {
	if file == "" {
		return nil, nil
	}
	f, err := recorded.Open(ctx, file)
	if err != nil {
		return nil, fmt.Errorf("reading events: %w", err)
	}
	defer f.Close()
	told, err := recorded.EventRows(file, f)
	if err != nil {
		return nil, fmt.Errorf("reading events: %w", err)
	}
	out := make([]household.Event, len(told))
	for i, e := range told {
		out[i] = live.FromRecorded(e.Value, cylinder)
	}
	return out, nil
}
