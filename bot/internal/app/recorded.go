package app

import (
	"context"
	"iter"

	"tarebell/bot/internal/household"
	"tarebell/forecast/unit/record"
	"tarebell/sources/recorded"
)

// Recorded opens recorded weighings, and events if a file is named, in order of time; at the same time the event comes first. Where they
// name no cylinder, the first is meant. The reading ends with ctx; done closes the files.
func Recorded(ctx context.Context, o household.Options, weighings, events string) (in iter.Seq2[record.Event, error], done func(), err error) {
	tables, err := recorded.OpenTables(ctx, weighings, events, o.Cylinders[0].Name)
	if err != nil {
		return nil, nil, err
	}
	return func(yield func(record.Event, error) bool) {
		for row, err := range tables.Rows() {
			if !yield(row.Event, err) {
				return
			}
		}
	}, tables.Close, nil
}
