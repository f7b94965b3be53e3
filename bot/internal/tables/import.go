package tables

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tarebell/bot/internal/live"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/mistake"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
	"tarebell/sources/recorded"
)

// batch is how many entries are written in one transaction.
const batch = 2000

// Import takes recorded weighings and events (either may be "") into the ledger. All is read and checked before
// anything is written; what the ledger holds already is left out, so that an import may be repeated. Notices of the time
// before the last entry are not posted: they are history. The weighings are not held in memory, see recorded.Tables.
func Import(ctx context.Context, ledger store.Store, weighings, events string, o Options) (n Count, err error) {
	tables, err := recorded.OpenTables(ctx, weighings, events, o.Cylinders[0])
	if err != nil {
		return n, err
	}
	defer tables.Close()
	for row, err := range tables.Rows() {
		if err == nil {
			file := weighings
			if row.Kind != record.Weighed {
				file = events
			}
			err = o.check(row, file)
		}
		if err != nil {
			return n, err
		}
	}
	w := writer{ctx: ctx, ledger: ledger}
	var keys keys
	for row, err := range tables.Rows() {
		if err == nil {
			err = w.add(store.Entry{Key: keys.of(row.Event), Event: row.Event, Received: row.At})
		}
		if err != nil {
			return w.n, err
		}
	}
	err = w.flush()
	return w.n, err
}

// keys gives keys to events in order of time.
type keys struct {
	at   time.Time
	same map[string]int // how many there were at that time, by key
}

// of is the key of a weighing or an event; events of the same time and kind are told apart by their order.
func (k *keys) of(e record.Event) string {
	if e.Kind == record.Weighed {
		return sources.Key(e)
	}
	if k.same == nil || !e.At.Equal(k.at) {
		k.at, k.same = e.At, map[string]int{}
	}
	key := fmt.Sprintf("import/%s/%s/%s", e.At.Format(time.RFC3339Nano), e.Kind, e.Cylinder)
	n := k.same[key]
	k.same[key]++
	return fmt.Sprintf("%s/%d", key, n)
}

// check says what keeps a row of a file out of this household's ledger.
func (o Options) check(row recorded.Row, file string) error {
	fault := func(column, read, want string) error {
		return &mistake.Mistake{File: file, Line: row.Line, Path: column, Read: mistake.Quote(read), Want: want}
	}
	switch {
	case !slices.Contains(o.Cylinders, row.Cylinder):
		return fault("cylinder", row.Cylinder, "is not in the config; it has "+strings.Join(o.Cylinders, ", "))
	case row.At.After(o.Now.Add(sources.MaxSkew)):
		return fault("time", row.At.Format(time.RFC3339), "lies in the future; want a time up to now, "+o.Now.UTC().Format(time.RFC3339))
	}
	if _, err := row.Kept(); err != nil {
		return &mistake.Mistake{File: file, Line: row.Line, Want: err.Error()}
	}
	return nil
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
	reached, err := live.Reached(w.ctx, w.ledger)
	if err != nil {
		return err
	}
	facts := map[string]string{}
	if last := fresh[len(fresh)-1].At; !reached.After(last) {
		facts[live.FactReached] = last.UTC().Format(time.RFC3339Nano)
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

// fresh is what the ledger does not hold of a part, going through what it holds of the same time.
func (w *writer) fresh() ([]store.Entry, error) {
	of := map[string]bool{}
	for _, e := range w.part {
		of[content(e)] = true
	}
	first, last := w.part[0].At, w.part[len(w.part)-1].At
reading:
	for e, err := range w.ledger.Entries(w.ctx, store.Position{At: first.Add(-time.Millisecond), Seq: math.MaxInt64}) {
		switch {
		case err != nil:
			return nil, err
		case e.At.After(last):
			break reading
		case !e.Voided:
			delete(of, content(e))
		}
	}
	return slices.DeleteFunc(slices.Clone(w.part), func(e store.Entry) bool { return !of[content(e)] }), nil
}

// Add counts an entry as stored.
func (n *Count) Add(e store.Entry) {
	switch {
	case e.Seq == 0:
		n.Known++
	case e.Kind == record.Weighed:
		n.Weighings++
	default:
		n.Events++
	}
}

// content is what makes two entries the same, whatever their keys.
func content(e store.Entry) string {
	value := e.Value()
	if e.Kind == record.Weighed {
		value = fmt.Sprintf("%.6f", float64(e.Gross))
	}
	return strings.Join([]string{string(e.Kind), e.At.UTC().Format(time.RFC3339Nano), e.Cylinder, value, string(e.Origin), e.By}, "\x00")
}
