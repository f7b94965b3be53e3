// Package recorded reads and writes weighings and events as CSV files, for replay, import and export.
//
// weighings.csv has the columns time,gross_kg,temp_c,source and events.csv the columns time,event,value, in any
// order, with a header. Further columns are optional: cylinder, by, net and sd_g for weighings, cylinder and by
// for events. Times are RFC 3339. Mistakes are a mistake.List.
package recorded

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"slices"
	"strings"
	"time"

	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"tarebell/forecast/unit/mistake"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

// table reads a CSV file with a header, row by row.
type table struct {
	file   string
	csv    *csv.Reader
	header []string
	index  map[string]int // of a column in the row
	row    []string
	lost   bool // what follows cannot be trusted
}

// openTable reads the header. The first need of the known columns must be there. A byte order mark, which spreadsheets put in front, is
// passed over.
func openTable(file string, r io.Reader, known []string, need int) (*table, error) {
	t := &table{file: file, csv: csv.NewReader(transform.NewReader(r, unicode.BOMOverride(transform.Nop))), index: map[string]int{}}
	t.csv.ReuseRecord = true
	header, err := t.csv.Read()
	if errors.Is(err, io.EOF) {
		return nil, &mistake.Mistake{File: file, Line: 1, Want: "empty; want the header " + strings.Join(known[:need], ",")}
	} else if err != nil {
		return nil, t.broken(err)
	}
	t.header = slices.Clone(header)
	for _, name := range known[:need] {
		if !slices.Contains(t.header, name) {
			return nil, &mistake.Mistake{File: file, Line: 1, Read: mistake.Quote(strings.Join(t.header, ",")), Want: t.headerWanted(name, known[:need])}
		}
	}
	for i, name := range t.header {
		if _, again := t.index[name]; again || !slices.Contains(known, name) {
			line, col := t.csv.FieldPos(i)
			return nil, &mistake.Mistake{File: file, Line: line, Col: col, Read: mistake.Quote(name),
				Want: "unknown or repeated column; use " + strings.Join(known, ", ")}
		}
		t.index[name] = i
	}
	return t, nil
}

// headerWanted says what is wrong with a header that lacks a column.
func (t *table) headerWanted(column string, needed []string) string {
	want := "want the header " + strings.Join(needed, ",")
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

// get is the field of a column in the current row, "" if there is no such column.
func (t *table) get(column string) string {
	if i, ok := t.index[column]; ok {
		return t.row[i]
	}
	return ""
}

// fault is a mistake in the field of a column of the current row.
func (t *table) fault(column, want string) *mistake.Mistake {
	i := t.index[column]
	line, col := t.csv.FieldPos(i)
	return &mistake.Mistake{File: t.file, Line: line, Col: col, Path: column, Read: mistake.Quote(t.row[i]), Want: want}
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

// time reads the column time.
func (t *table) time() (time.Time, error) {
	at, err := record.ParseTime(t.get("time"))
	switch {
	case err != nil:
		return at, t.fault("time", "want a time of RFC 3339, for example 2027-01-04T06:50:00Z")
	case !sources.TimeOK(at):
		return at, t.fault("time", "want a time "+sources.Times)
	}
	return at, nil
}

// text is a field to be kept: a copy, because the fields of a row share one string.
func (t *table) text(column string) string { return strings.Clone(t.get(column)) }

// maxErrors is how many mistakes are looked for.
const maxErrors = 10

// Row is a row of a table and the line on which it stands.
type Row struct {
	Line int
	record.Event
}

// kind is a sort of table: its columns, the first need of which must be there, and how a row is read.
type kind struct {
	columns []string
	need    int
	row     func(*table) (record.Event, error)
}

// longest is how many rows that are not in order of time are put in order in memory.
const longest = 200_000

// rows hands out a table in order of time; rows of the same time keep the order of the file. If there are mistakes it yields the first few
// of them as a mistake.List, and nothing else. A table that is in order is read twice and takes no memory to speak of, unless r is no io.Seeker.
func (k kind) rows(file string, r io.Reader) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		again, sorted, err := k.survey(file, r)
		var all []Row
		rows := k.each(file, again)
		if err == nil && !sorted {
			all, err = k.all(file, again)
			rows = func(yield func(Row, error) bool) {
				for _, row := range all {
					if !yield(row, nil) {
						return
					}
				}
			}
		}
		if err != nil {
			yield(Row{}, err)
			return
		}
		for row, err := range rows {
			if !yield(row, err) || err != nil {
				return
			}
		}
	}
}

// survey looks for mistakes in a table that can be read again, and says whether it is in order of time.
func (k kind) survey(file string, r io.Reader) (again io.Reader, sorted bool, err error) {
	s, ok := r.(io.Seeker)
	if !ok {
		return r, false, nil
	}
	start, err := s.Seek(0, io.SeekCurrent)
	if err != nil { // a pipe
		return r, false, nil
	}
	n, disorder, jump := 0, (*mistake.Mistake)(nil), gap{}
	err = noMistakes(k.each(file, r), func(row Row) {
		at := row.At
		if n > 0 && at.Before(jump.last) && disorder == nil {
			disorder = &mistake.Mistake{File: file, Line: row.Line, Path: "time", Read: mistake.Quote(at.Format(time.RFC3339)),
				Want: fmt.Sprintf("comes after %s; want rows in order of time in a table of more than %d rows; sort it by its time first", jump.last.Format(time.RFC3339), longest)}
		}
		n++
		jump.add(at, row.Line)
	})
	switch {
	case err != nil:
	case disorder == nil:
		err = jump.fault(file)
	case n > longest:
		err = mistake.List{disorder}
	}
	if err == nil {
		_, err = s.Seek(start, io.SeekStart)
	}
	return r, disorder == nil, err
}

// all is a table as a whole, put in order.
func (k kind) all(file string, r io.Reader) (all []Row, err error) {
	if err := noMistakes(k.each(file, r), func(row Row) { all = append(all, row) }); err != nil {
		return nil, err
	}
	slices.SortStableFunc(all, func(a, b Row) int { return a.At.Compare(b.At) })
	jump := gap{}
	for _, row := range all {
		jump.add(row.At, row.Line)
	}
	if err := jump.fault(file); err != nil {
		return nil, err
	}
	return all, nil
}

// each hands out the rows as they stand in a table, and mistakes.
func (k kind) each(file string, r io.Reader) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		t, err := openTable(file, r, k.columns, k.need)
		for err == nil {
			var row Row
			e := t.next()
			if e == io.EOF {
				return
			}
			if e == nil {
				row.Line, _ = t.csv.FieldPos(0)
				row.Event, e = k.row(t)
			}
			if !yield(row, e) || t.lost {
				return
			}
		}
		yield(Row{}, err)
	}
}

// noMistakes goes through rows to the end, past mistakes in fields, and hears what is right unless there are any.
func noMistakes(rows iter.Seq2[Row, error], hear func(Row)) error {
	var wrong mistake.List
	for row, err := range rows {
		e := (*mistake.Mistake)(nil)
		switch {
		case err == nil && len(wrong) == 0:
			hear(row)
		case errors.As(err, &e):
			wrong = append(wrong, e)
			if len(wrong) == maxErrors {
				return wrong
			}
		case err != nil:
			return err
		}
	}
	if len(wrong) > 0 {
		return wrong
	}
	return nil
}

// longestGap is how long a household may have been silent. More means that a clock was wrong; a wrong row would also take the others out of what
// is looked back on.
const longestGap = 5 * 366 * 24 * time.Hour

// gap finds the first two neighbours in time that lie further apart.
type gap struct {
	n, before    int
	last         time.Time
	line         int
	from, to     time.Time
	older, newer int // their lines
}

func (g *gap) add(at time.Time, line int) {
	if g.n > 0 && g.from.IsZero() && at.Sub(g.last) > longestGap {
		g.from, g.to, g.older, g.newer, g.before = g.last, at, g.line, line, g.n
	}
	g.n, g.last, g.line = g.n+1, at, line
}

// fault names the one of the two that has fewer rows on its side.
func (g *gap) fault(file string) error {
	if g.from.IsZero() {
		return nil
	}
	line, at, other, how := g.newer, g.to, g.older, "after"
	if 2*g.before < g.n {
		line, at, other, how = g.older, g.from, g.newer, "before"
	}
	years := g.to.Sub(g.from).Hours() / 24 / 365.25
	return mistake.List{{File: file, Line: line, Path: "time", Read: mistake.Quote(at.Format(time.RFC3339)), Want: fmt.Sprintf(
		"lies %.0f years %s line %d; was a clock wrong? Want no gap of more than 5 years; if both are right, put what is older into a table of its own", years, how, other)}}
}

// File is a file that is read until a context ends.
type File struct {
	*os.File
	ctx context.Context
}

// Open opens a file to be read until ctx ends.
func Open(ctx context.Context, name string) (File, error) {
	f, err := os.Open(name)
	return File{f, ctx}, err
}

// Read implements io.Reader.
func (f File) Read(b []byte) (int, error) {
	if err := f.ctx.Err(); err != nil {
		return 0, err
	}
	return f.File.Read(b)
}
