package app

import (
	"fmt"
	"iter"
	"os"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/replay"
	"tarebell/sources/recorded"
)

// Recorded opens recorded weighings, of the first cylinder where they name none, and events if a file is named, in order of time.
// close lets go of the files.
func Recorded(o household.Options, weighings, events string) (in iter.Seq2[replay.Input, error], close func(), err error) {
	f, err := os.Open(weighings)
	if err != nil {
		return nil, nil, fmt.Errorf("reading weighings: %w", err)
	}
	name := o.Cylinders[0].Name
	told, err := recordedEvents(name, events)
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

func recordedEvents(cylinder, file string) ([]household.Event, error) {
	if file == "" {
		return nil, nil
	}
	told, err := recorded.LoadEvents(file)
	if err != nil {
		return nil, fmt.Errorf("reading events: %w", err)
	}
	out := make([]household.Event, len(told))
	for i, e := range told {
		out[i] = live.FromRecorded(e, cylinder)
	}
	return out, nil
}
