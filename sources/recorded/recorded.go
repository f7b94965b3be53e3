// Package recorded reads and writes weighings and events as CSV files, for replay, import and export.
//
// weighings.csv has the columns time,gross_kg,temp_c,source and events.csv the columns time,event,value, in any
// order, with a header. Further columns are optional: cylinder, by, net and sd_g for weighings, cylinder and by
// for events. Times are RFC 3339. Mistakes are a mistake.List.
package recorded

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"tarebell/forecast/unit/mistake"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

// table reads a CSV file with a header, row by row.
type table struct {
	file   string
	csv    *csv.Reader
	header []string
	index  []int // of known column i in the row; -1 absent
	known  []string
	row    []string
	lost   bool // what follows cannot be trusted
}

// openTable reads the header. The first need of the known columns must be there.
func openTable(file string, r io.Reader, known []string, need int) (*table, error) {
	t := &table{file: file, csv: csv.NewReader(skipBOM(r)), known: known, index: make([]int, len(known))}
	t.csv.ReuseRecord = true
	header, err := t.csv.Read()
	if errors.Is(err, io.EOF) {
		return nil, &mistake.Mistake{File: file, Line: 1, Want: "empty; want the header " + strings.Join(known[:need], ",")}
	} else if err != nil {
		return nil, t.broken(err)
	}
	t.header = slices.Clone(header)
	for i := range t.index {
		t.index[i] = slices.Index(t.header, known[i])
		if t.index[i] < 0 && i < need {
			return nil, &mistake.Mistake{File: file, Line: 1, Read: mistake.Quote(strings.Join(t.header, ",")), Want: t.headerWanted(known[i], need)}
		}
	}
	for i, name := range t.header {
		if !slices.Contains(known, name) || slices.Index(t.header, name) != i {
			line, col := t.csv.FieldPos(i)
			return nil, &mistake.Mistake{File: file, Line: line, Col: col, Read: mistake.Quote(name),
				Want: "unknown or repeated column; use " + strings.Join(known, ", ")}
		}
	}
	return t, nil
}

// headerWanted says what is wrong with a header that lacks a column.
func (t *table) headerWanted(column string, need int) string {
	want := "want the header " + strings.Join(t.known[:need], ",")
	if len(t.header) == 1 && strings.ContainsAny(t.header[0], ";\t") {
		return want + ", with commas between columns and points in decimals"
	}
	return "no column " + column + "; " + want
}

// next reads a row; io.EOF ends the file.
func (t *table) next() error {
	row, err := t.csv.Read()
	t.row = row
	if err == nil {
		return nil
	}
	if errors.Is(err, io.EOF) {
		return io.EOF
	}
	return t.broken(err)
}

// get is the field of known column i, "" if the column is absent.
func (t *table) get(i int) string {
	if k := t.index[i]; k >= 0 {
		return t.row[k]
	}
	return ""
}

// fault is a mistake in the field of known column i of the current row.
func (t *table) fault(i int, want string) *mistake.Mistake {
	k := t.index[i]
	line, col := t.csv.FieldPos(max(k, 0))
	return &mistake.Mistake{File: t.file, Line: line, Col: col, Path: t.known[i], Read: mistake.Quote(t.row[max(k, 0)]), Want: want}
}

// broken turns what the CSV reader says into a Mistake.
func (t *table) broken(err error) error {
	p := (*csv.ParseError)(nil)
	if !errors.As(err, &p) {
		return fmt.Errorf("reading %s: %w", t.file, err)
	}
	e := &mistake.Mistake{File: t.file, Line: p.Line, Col: p.Column, Want: "want CSV as RFC 4180 has it: " + p.Err.Error()}
	t.lost = !errors.Is(err, csv.ErrFieldCount)
	if !t.lost {
		e.Col, e.Read = 0, mistake.Quote(strings.Join(t.row, ","))
		e.Want = fmt.Sprintf("%d of %d fields; want %s", len(t.row), len(t.header), strings.Join(t.header, ","))
	}
	return e
}

// timeColumn reads the time in known column i.
func (t *table) timeColumn(i int) (time.Time, error) {
	at, err := record.ParseTime(t.get(i))
	switch {
	case err != nil:
		return at, t.fault(i, "want a time of RFC 3339, for example 2027-01-04T06:50:00Z")
	case !sources.TimeOK(at):
		return at, t.fault(i, "want a time "+sources.Times)
	}
	return at, nil
}

// textColumn is a field to be kept: a copy, because the fields of a row share one string.
func (t *table) textColumn(i int) string { return strings.Clone(t.get(i)) }

// maxErrors is how many mistakes are looked for.
const maxErrors = 10

// read reads a table in order of time; rows of the same time keep the order of the file. Mistakes in fields are passed, so that the first
// few are found in one go.
func read(file string, r io.Reader, columns []string, need int, row func(*table) (record.Event, error)) ([]record.Event, error) {
	t, err := openTable(file, r, columns, need)
	if err != nil {
		return nil, err
	}
	var rows []record.Event
	var wrong mistake.List
	for len(wrong) < maxErrors && !t.lost {
		var e record.Event
		if err = t.next(); err == nil {
			e, err = row(t)
		}
		var m *mistake.Mistake
		switch {
		case err == nil:
			rows = append(rows, e)
			continue
		case errors.As(err, &m):
			wrong = append(wrong, m)
			continue
		case err != io.EOF:
			return nil, err
		}
		break
	}
	if len(wrong) > 0 {
		return nil, wrong
	}
	slices.SortStableFunc(rows, func(a, b record.Event) int { return a.At.Compare(b.At) })
	return rows, nil
}
