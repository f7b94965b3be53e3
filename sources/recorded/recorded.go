// Package recorded reads and writes weighings and events as CSV files, for replay, import and export.
//
// weighings.csv has the columns time,gross_kg,temp_c,source and events.csv the columns time,event,value, in any
// order, with a header. Further columns are optional: cylinder, by, net and sd_g for weighings, cylinder and by
// for events. Times are RFC 3339. A mistake is an *Error with file, line and column, what was read and what
// would be right.
package recorded

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"tarebell/sources"
)

// Error is a mistake in a file.
type Error struct {
	File      string
	Line, Col int    // from 1, Col in bytes; 0 unknown
	Column    string // name of the column; "" the line as a whole
	Read      string // quoted; "" nothing
	Want      string

	fatal bool // what follows cannot be trusted
}

// Error is "file:line:col: column: read: want" without the parts that are empty.
func (e *Error) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s:%d", e.File, e.Line)
	if e.Col > 0 {
		fmt.Fprintf(&b, ":%d", e.Col)
	}
	for _, s := range []string{e.Column, e.Read, e.Want} {
		if s != "" {
			b.WriteString(": " + s)
		}
	}
	return b.String()
}

// table reads a CSV file with a header, row by row.
type table struct {
	file   string
	csv    *csv.Reader
	header []string
	index  []int // of known column i in the row; -1 absent
	known  []string
	row    []string
}

// openTable reads the header. The first need of the known columns must be there.
func openTable(file string, r io.Reader, known []string, need int) (*table, error) {
	t := &table{file: file, csv: csv.NewReader(skipBOM(r)), known: known, index: make([]int, len(known))}
	t.csv.ReuseRecord = true
	header, err := t.csv.Read()
	if errors.Is(err, io.EOF) {
		return nil, &Error{File: file, Line: 1, Want: "empty; want the header " + strings.Join(known[:need], ",")}
	} else if err != nil {
		return nil, t.broken(err)
	}
	t.header = slices.Clone(header)
	for i := range t.index {
		t.index[i] = slices.Index(t.header, known[i])
		if t.index[i] < 0 && i < need {
			return nil, &Error{File: file, Line: 1, Read: quote(strings.Join(t.header, ",")), Want: t.headerWanted(known[i], need)}
		}
	}
	for i, name := range t.header {
		if !slices.Contains(known, name) || slices.Index(t.header, name) != i {
			line, col := t.csv.FieldPos(i)
			return nil, &Error{File: file, Line: line, Col: col, Read: quote(name),
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
func (t *table) fault(i int, want string) *Error {
	k := t.index[i]
	line, col := t.csv.FieldPos(max(k, 0))
	return &Error{File: t.file, Line: line, Col: col, Column: t.known[i], Read: quote(t.row[max(k, 0)]), Want: want}
}

// broken turns what the CSV reader says into an Error.
func (t *table) broken(err error) error {
	p := (*csv.ParseError)(nil)
	if !errors.As(err, &p) {
		return fmt.Errorf("reading %s: %w", t.file, err)
	}
	e := &Error{File: t.file, Line: p.Line, Col: p.Column, Want: "want CSV as RFC 4180 has it: " + p.Err.Error()}
	e.fatal = true
	if errors.Is(err, csv.ErrFieldCount) {
		e.fatal = false
		e.Col, e.Read = 0, quote(strings.Join(t.row, ","))
		e.Want = fmt.Sprintf("%d of %d fields; want %s", len(t.row), len(t.header), strings.Join(t.header, ","))
	}
	return e
}

// timeColumn reads the time in known column i.
func (t *table) timeColumn(i int) (time.Time, *Error) {
	s := t.get(i)
	at, ok := fastTime(s)
	if !ok {
		var err error
		if at, err = parseTime(s); err != nil {
			return at, t.fault(i, "want a time of RFC 3339, for example 2027-01-04T06:50:00Z")
		}
		at = at.UTC().Truncate(time.Millisecond)
	}
	if !sources.TimeOK(at) {
		return at, t.fault(i, "want a time "+sources.Times)
	}
	return at, nil
}

// textColumn is a field to be kept: a copy, because the fields of a row share one string.
func (t *table) textColumn(i int) string { return strings.Clone(t.get(i)) }

// Errors are the first mistakes of a file, in file order.
type Errors []*Error

// Unwrap gives the single mistakes to errors.As.
func (es Errors) Unwrap() []error {
	out := make([]error, len(es))
	for i, e := range es {
		out[i] = e
	}
	return out
}

// maxErrors is how many mistakes are looked for.
const maxErrors = 10

// Error is one line for each mistake.
func (es Errors) Error() string {
	lines := make([]string, len(es))
	for i, e := range es {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// read reads a table in order of time; rows of the same time keep the order of the file.
func read[T any](file string, r io.Reader, columns []string, need int, row func(*table) (T, error), at func(T) time.Time) ([]T, error) {
	t, err := openTable(file, r, columns, need)
	if err != nil {
		return nil, err
	}
	rows, err := collect(func() (T, error) { return row(t) })
	if inTime := func(a, b T) int { return at(a).Compare(at(b)) }; !slices.IsSortedFunc(rows, inTime) {
		slices.SortStableFunc(rows, inTime)
	}
	return rows, err
}

// collect reads rows to the end, past mistakes in fields, and returns what was right, or the mistakes.
func collect[T any](next func() (T, error)) (out []T, err error) {
	var wrong Errors
	for len(wrong) < maxErrors {
		v, err := next()
		e := (*Error)(nil)
		switch {
		case err == nil:
			out = append(out, v)
			continue
		case errors.As(err, &e):
			wrong = append(wrong, e)
		case err != io.EOF:
			return nil, err
		}
		if e == nil || e.fatal {
			break
		}
	}
	if len(wrong) > 0 {
		return nil, wrong
	}
	return out, nil
}

// quote shows a field, bounded and on one line.
func quote(s string) string {
	if r := []rune(s); len(r) > 60 {
		s = string(r[:59]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
