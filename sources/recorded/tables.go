package recorded

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"iter"
)

// Tables are the weighings and the events of a household, in two files.
type Tables struct {
	cylinder  string
	told      []Row
	weighings string
	file      File
	passed    bool
}

// OpenTables reads the events and opens the weighings; either name may be "". Where a row names no cylinder, the one given is meant. The
// reading ends with ctx. If there are mistakes in the events the error is a mistake.List.
func OpenTables(ctx context.Context, weighings, events, cylinder string) (*Tables, error) {
	t := &Tables{cylinder: cylinder, weighings: weighings}
	if events != "" {
		f, err := Open(ctx, events)
		if err != nil {
			return nil, fmt.Errorf("reading events: %w", err)
		}
		defer f.Close()
		if t.told, err = EventRows(events, f); err != nil {
			return nil, fmt.Errorf("reading events: %w", err)
		}
	}
	if weighings != "" {
		var err error
		if t.file, err = Open(ctx, weighings); err != nil {
			return nil, fmt.Errorf("reading weighings: %w", err)
		}
	}
	return t, nil
}

// Close closes the files.
func (t *Tables) Close() {
	if t.weighings != "" {
		t.file.Close()
	}
}

// Rows are those of both tables in order of time; at the same time events come first. They can be gone through again, unless the weighings
// come from a pipe. The weighings are not held in memory, see WeighingRows.
func (t *Tables) Rows() iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		hand := func(row Row, err error) bool {
			row.Cylinder = cmp.Or(row.Cylinder, t.cylinder)
			return yield(row, err) && err == nil
		}
		told := t.told
		for row, err := range t.weighed() {
			for ; err == nil && len(told) > 0 && !told[0].At.After(row.At); told = told[1:] {
				if !hand(told[0], nil) {
					return
				}
			}
			if !hand(row, err) {
				return
			}
		}
		for _, row := range told {
			if !hand(row, nil) {
				return
			}
		}
	}
}

// weighed are the weighings from the first on.
func (t *Tables) weighed() iter.Seq2[Row, error] {
	if t.weighings == "" {
		return func(func(Row, error) bool) {}
	}
	if t.passed {
		if _, err := t.file.Seek(0, io.SeekStart); err != nil {
			return func(yield func(Row, error) bool) {
				yield(Row{}, fmt.Errorf("a file of weighings is read twice, so it cannot be a pipe: %w", err))
			}
		}
	}
	t.passed = true
	return WeighingRows(t.weighings, t.file)
}
