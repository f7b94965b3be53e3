package app

import (
	"fmt"
	"iter"
	"slices"

	"tarebell/bot/internal/household"
	"tarebell/forecast/unit/record"
	"tarebell/sources/recorded"
)

// Recorded reads recorded weighings, and events if a file is named, in order of time; at the same time the event comes first. Where they
// name no cylinder, the first is meant.
func Recorded(o household.Options, weighings, events string) (iter.Seq2[record.Event, error], error) {
	var all []record.Event
	if events != "" {
		told, err := recorded.LoadEvents(events)
		if err != nil {
			return nil, fmt.Errorf("reading events: %w", err)
		}
		all = told
	}
	weighed, err := recorded.LoadWeighings(weighings)
	if err != nil {
		return nil, fmt.Errorf("reading weighings: %w", err)
	}
	all = append(all, weighed...)
	slices.SortStableFunc(all, func(a, b record.Event) int { return a.At.Compare(b.At) })
	return func(yield func(record.Event, error) bool) {
		for _, e := range all {
			if e.Cylinder == "" {
				e.Cylinder = o.Cylinders[0].Name
			}
			if !yield(e, nil) {
				return
			}
		}
	}, nil
}
