package transfer

import (
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"slices"
	"strings"
	"time"

	"tarebell/bot/internal/live"
	"tarebell/bot/internal/store"
	"tarebell/sources"
	"tarebell/sources/recorded"
)

// batch is how many entries are written in one transaction.
const batch = 2000

// Import takes recorded weighings and events (either may be "") into the ledger. All is read and checked before
// anything is written; what the ledger holds already is left out, so that an import may be repeated. Notices of the time
// before the last entry are not posted: they are history. The weighings are not held in memory, see recorded.WeighingRows.
func Import(ctx context.Context, ledger store.Store, weighings, events string, o Options) (n Count, err error) {
	s := source{options: o, weighings: weighings, events: events}
	if err := s.open(ctx); err != nil {
		return n, err
	}
	defer s.close()
	for e, err := range s.entries() {
		if err == nil {
			err = o.check(e)
		}
		if err != nil {
			return n, err
		}
	}
	w := writer{ctx: ctx, ledger: ledger}
	for e, err := range s.entries() {
		if err == nil {
			err = w.add(e.Entry)
		}
		if err != nil {
			return w.n, err
		}
	}
	err = w.flush()
	return w.n, err
}

// line is an entry and where it stands.
type line struct {
	store.Entry
	file string
	line int
}

// source is the two tables of an import.
type source struct {
	options           Options
	weighings, events string
	told              []line
	file              recorded.File
}

// open reads the events, and opens the weighings.
func (s *source) open(ctx context.Context) (err error) {
	if s.events != "" {
		f, err := recorded.Open(ctx, s.events)
		if err != nil {
			return err
		}
		defer f.Close()
		rows, err := recorded.EventRows(s.events, f)
		if err != nil {
			return err
		}
		for i, row := range rows {
			ev := live.FromRecorded(row.Value, s.options.Cylinders[0])
			key := fmt.Sprintf("import/%s/%s/%s/%d", ev.At.Format(time.RFC3339Nano), ev.Kind, ev.Cylinder, same(rows, i))
			s.told = append(s.told, line{live.FromEvent(ev, key, "", ev.At, ""), s.events, row.Line})
		}
	}
	if s.weighings != "" {
		s.file, err = recorded.Open(ctx, s.weighings)
	}
	return err
}

func (s *source) close() {
	if s.weighings != "" {
		s.file.Close()
	}
}

// entries are those of both tables in order of time; at the same time events come first, as in replay.
func (s *source) entries() iter.Seq2[line, error] {
	return func(yield func(line, error) bool) {
		rest := s.told
		for row, err := range s.rows() {
			for ; err == nil && len(rest) > 0 && !rest[0].At.After(row.Value.At); rest = rest[1:] {
				if !yield(rest[0], nil) {
					return
				}
			}
			if !yield(s.weighed(row), err) {
				return
			}
		}
		for _, e := range rest {
			if !yield(e, nil) {
				return
			}
		}
	}
}

// rows are the weighings from the first on.
func (s *source) rows() iter.Seq2[recorded.Row[sources.Weighing], error] {
	if s.weighings == "" {
		return func(func(recorded.Row[sources.Weighing], error) bool) {}
	}
	if _, err := s.file.Seek(0, io.SeekStart); err != nil {
		return func(yield func(recorded.Row[sources.Weighing], error) bool) {
			yield(recorded.Row[sources.Weighing]{}, fmt.Errorf("a file of weighings is read twice, so it cannot be a pipe: %w", err))
		}
	}
	return recorded.WeighingRows(s.weighings, s.file)
}

func (s *source) weighed(row recorded.Row[sources.Weighing]) line {
	w := row.Value
	if w.Item == "" {
		w.Item = s.options.Cylinders[0]
	}
	w.Key = sources.Key(w.Origin, w.Item, w.At)
	return line{live.FromWeighing(w, w.By, ""), s.weighings, row.Line}
}

// same counts the events of the same time and kind before the one at i.
func same(told []recorded.Row[recorded.Event], i int) (n int) {
	for j := i - 1; j >= 0 && told[j].Value.At.Equal(told[i].Value.At); j-- {
		if told[j].Value.Kind == told[i].Value.Kind && told[j].Value.Item == told[i].Value.Item {
			n++
		}
	}
	return n
}

// check says what keeps an entry out of this household's ledger.
func (o Options) check(e line) error {
	fault := func(column, read, want string) error {
		return &recorded.Error{File: e.file, Line: e.line, Column: column, Read: fmt.Sprintf("%q", read), Want: want}
	}
	switch {
	case !slices.Contains(o.Cylinders, e.Cylinder):
		return fault("cylinder", e.Cylinder, "is not in the config; it has "+strings.Join(o.Cylinders, ", "))
	case e.At.After(o.Now.Add(sources.MaxSkew)):
		return fault("time", e.At.Format(time.RFC3339), "lies in the future; want a time up to now, "+o.Now.UTC().Format(time.RFC3339))
	}
	return live.Valid(e.Entry)
}

// writer writes entries, in order of time, that the ledger does not hold yet.
type writer struct {
	ctx    context.Context
	ledger store.Store
	part   []store.Entry
	n      Count
}

func (w *writer) add(e store.Entry) error {
	if w.part = append(w.part, e); len(w.part) < batch {
		return nil
	}
	return w.flush()
}

// flush writes a part. When the ledger has notices up to a later moment than the part, nothing changes about that; else nothing more
// is to be said up to there.
func (w *writer) flush() error {
	if len(w.part) == 0 {
		return nil
	}
	read := len(w.part)
	fresh, err := w.fresh()
	if err != nil {
		return err
	}
	w.n.Known += read - len(fresh)
	w.part = w.part[:0]
	if len(fresh) == 0 {
		return nil
	}
	facts, err := w.facts(fresh[len(fresh)-1].At)
	if err != nil {
		return err
	}
	written, err := w.ledger.Write(w.ctx, store.Batch{Entries: fresh, Facts: facts})
	if err != nil {
		return fmt.Errorf("after %d entries: %w; the import may be repeated", w.n.Weighings+w.n.Events, err)
	}
	for _, e := range written.Entries {
		w.n.Add(e)
	}
	return nil
}

// facts move the moment reached to last, unless it lies later.
func (w *writer) facts(last time.Time) (map[string]string, error) {
	text, ok, err := w.ledger.Fact(w.ctx, live.FactReached)
	if err != nil {
		return nil, err
	}
	if ok {
		t, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			return nil, fmt.Errorf("fact %q in the ledger: %w", live.FactReached, err)
		}
		if t.After(last) {
			return nil, nil
		}
	}
	return map[string]string{live.FactReached: last.UTC().Format(time.RFC3339Nano)}, nil
}

// errPast ends the reading of the ledger after the time of a part.
var errPast = errors.New("past")

// fresh is what the ledger does not hold of a part, going through what it holds of the same time.
func (w *writer) fresh() ([]store.Entry, error) {
	of := map[string]bool{}
	for _, e := range w.part {
		of[content(e)] = true
	}
	first, last := w.part[0].At, w.part[len(w.part)-1].At
	err := w.ledger.Entries(w.ctx, store.Position{At: first.Add(-time.Millisecond), Seq: math.MaxInt64}, func(e store.Entry) error {
		if e.At.After(last) {
			return errPast
		}
		if !e.Voided {
			delete(of, content(e))
		}
		return nil
	})
	if err != nil && !errors.Is(err, errPast) {
		return nil, err
	}
	return slices.DeleteFunc(slices.Clone(w.part), func(e store.Entry) bool { return !of[content(e)] }), nil
}

// Add counts an entry as stored.
func (n *Count) Add(e store.Entry) {
	switch {
	case e.Seq == 0:
		n.Known++
	case e.Kind == store.Weighing:
		n.Weighings++
	default:
		n.Events++
	}
}

// content is what makes two entries the same, whatever their keys.
func content(e store.Entry) string {
	value := e.Value
	if e.Kind == store.Weighing {
		value = fmt.Sprintf("%.6f", e.GrossG)
	}
	return strings.Join([]string{string(e.Kind), e.At.UTC().Format(time.RFC3339Nano), e.Cylinder, e.Name, value, e.Origin, e.ByName}, "\x00")
}
