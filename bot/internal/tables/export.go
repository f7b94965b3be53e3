// Package tables brings a household's ledger out into plain tables and back in: nothing is locked in.
//
// weighings.csv and events.csv are the files that replay reads, with all their columns; imported again they make the same
// household. history.csv is for a spreadsheet and for people: one row for every entry, struck-out ones too, in the
// household's own units and clock.
package tables

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
	"tarebell/sources/recorded"
)

// Options is how people read and which cylinders there are.
type Options struct {
	Zone      *time.Location
	US        bool
	Cylinders []string // the first is meant where a file names none
	Now       time.Time
}

// Count is how much was written or read.
type Count struct{ Weighings, Events, Known int }

// String says how much it is.
func (n Count) String() string {
	many := func(n int, what string) string {
		if n == 1 {
			return "1 " + what
		}
		return fmt.Sprintf("%d %ss", n, what)
	}
	return many(n.Weighings, "weighing") + " and " + many(n.Events, "event")
}

// Files are the names of the tables, in the order in which they are written.
var Files = []string{"weighings.csv", "events.csv", "history.csv"}

// Export writes the tables into a folder, which it makes if need be. The ledger is read once for each table: that they agree takes a snapshot of it. A table that is there already is not touched: the
// export ends with an error before anything is written.
func Export(ctx context.Context, ledger store.Reader, dir string, o Options) (n Count, err error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return n, fmt.Errorf("making the folder: %w", err)
	}
	for _, name := range Files {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			return n, fmt.Errorf("%s is there already; choose a folder without it", filepath.Join(dir, name))
		}
	}
	for _, table := range []struct {
		name  string
		write func(io.Writer) error
	}{
		{Files[0], func(w io.Writer) error {
			return recorded.WriteWeighings(w, counting(ctx, ledger, true, &n.Weighings), true)
		}},
		{Files[1], func(w io.Writer) error { return recorded.WriteEvents(w, counting(ctx, ledger, false, &n.Events), true) }},
		{Files[2], func(w io.Writer) error { return history(w, ledger.Entries(ctx, store.Position{}), o) }},
	} {
		if err := create(filepath.Join(dir, table.name), table.write); err != nil {
			return n, err
		}
	}
	return n, nil
}

// create writes a new file; one that cannot be finished is taken away again.
func create(path string, write func(io.Writer) error) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
		if err != nil {
			os.Remove(path)
			err = fmt.Errorf("writing %s: %w", path, err)
		}
	}()
	return write(f)
}

// counting picks the events that count, and counts them.
func counting(ctx context.Context, ledger store.Reader, weighed bool, n *int) iter.Seq2[record.Event, error] {
	return func(yield func(record.Event, error) bool) {
		for e, err := range ledger.Entries(ctx, store.Position{}) {
			if err == nil && (e.Voided || (e.Kind == record.Weighed) != weighed) {
				continue
			}
			*n++
			if !yield(e.Event, err) {
				return
			}
		}
	}
}

// history writes every entry in one table.
func history(w io.Writer, all iter.Seq2[store.Entry, error], o Options) error {
	gross := "gross_kg"
	if o.US {
		gross = "gross_lb"
	}
	c := csv.NewWriter(w)
	if err := c.Write([]string{"number", "time", "what", "cylinder", gross, "temp_c", "value", "by", "source", "as_typed", "struck_out"}); err != nil {
		return err
	}
	for e, err := range all {
		if err != nil {
			return err
		}
		if err := c.Write(historyRow(e, o)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func historyRow(e store.Entry, o Options) []string {
	row := []string{strconv.FormatInt(e.Seq, 10), e.At.In(o.Zone).Format("2006-01-02T15:04:05-07:00"), string(e.Kind), text(e.Cylinder), "", "",
		text(e.Value()), text(e.By), string(e.Origin), text(e.Text), ""}
	if e.Kind == record.Weighed {
		row[4] = strconv.FormatFloat(e.Gross.Kilograms(), 'f', 3, 64)
		if o.US {
			row[4] = strconv.FormatFloat(e.Gross.Pounds(), 'f', 3, 64)
		}
	}
	if e.HasTemp {
		row[5] = strconv.FormatFloat(float64(e.Temp), 'f', 1, 64)
	}
	if e.Voided {
		row[10] = "yes"
	}
	return row
}

// text keeps a spreadsheet from taking what somebody typed for a formula (OWASP, CSV injection).
func text(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
