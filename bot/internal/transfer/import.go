package transfer

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tarebell/bot/internal/live"
	"tarebell/bot/internal/store"
	"tarebell/sources"
	"tarebell/sources/recorded"
)

// batch is how many entries are written in one transaction.
const batch = 500

// Import takes recorded weighings and events (either may be "") into the ledger. All is read and checked before
// anything is written; what the ledger holds already is left out, so that an import may be repeated. Notices of the time
// before the last entry are not posted: they are history.
func Import(ctx context.Context, ledger store.Store, weighings, events string, o Options) (n Count, err error) {
	list, err := read(weighings, events, o)
	if err != nil {
		return n, err
	}
	there := map[string]bool{}
	err = ledger.Entries(ctx, store.Position{}, func(e store.Entry) error {
		if !e.Voided {
			there[content(e)] = true
		}
		return nil
	})
	if err != nil {
		return n, err
	}
	read := len(list)
	fresh := slices.DeleteFunc(list, func(e store.Entry) bool { return there[content(e)] })
	n.Known = read - len(fresh)
	reached, err := reachedAfter(ctx, ledger, fresh)
	if err != nil {
		return n, err
	}
	for part := range slices.Chunk(fresh, batch) {
		w, err := ledger.Write(ctx, store.Batch{Entries: part})
		if err != nil {
			return n, fmt.Errorf("after %d entries: %w; the import may be repeated", n.Weighings+n.Events, err)
		}
		n.add(w.Entries)
	}
	if reached.IsZero() {
		return n, nil
	}
	_, err = ledger.Write(ctx, store.Batch{Facts: map[string]string{live.FactReached: reached.UTC().Format(time.RFC3339Nano)}})
	return n, err
}

func (n *Count) add(written []store.Entry) {
	for _, e := range written {
		switch {
		case e.Seq == 0:
			n.Known++
		case e.Kind == store.Weighing:
			n.Weighings++
		default:
			n.Events++
		}
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

// reachedAfter is the moment up to which nothing more is to be said, given what is new; zero: as it stands.
func reachedAfter(ctx context.Context, ledger store.Store, fresh []store.Entry) (time.Time, error) {
	if len(fresh) == 0 {
		return time.Time{}, nil
	}
	last := fresh[len(fresh)-1].At
	text, ok, err := ledger.Fact(ctx, live.FactReached)
	if err != nil || !ok {
		return last, err
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		return t, fmt.Errorf("fact %q in the ledger: %w", live.FactReached, err)
	}
	if t.After(last) {
		return time.Time{}, nil
	}
	return last, nil
}

// read makes entries of the files, in order of time; at the same time events come first, as in replay.
func read(weighings, events string, o Options) ([]store.Entry, error) {
	var out []store.Entry
	if events != "" {
		told, err := recorded.LoadEvents(events)
		if err != nil {
			return nil, err
		}
		for i, r := range told {
			ev := live.FromRecorded(r, o.Cylinders[0])
			e := live.FromEvent(ev, fmt.Sprintf("import/%s/%s/%s/%d", r.At.Format(time.RFC3339Nano), r.Kind, ev.Cylinder, same(told, i)), "", ev.At, "")
			out = append(out, e)
		}
	}
	if weighings != "" {
		ws, err := recorded.LoadWeighings(weighings)
		if err != nil {
			return nil, err
		}
		for _, w := range ws {
			if w.Item == "" {
				w.Item = o.Cylinders[0]
			}
			w.Key = sources.Key(w.Origin, w.Item, w.At)
			out = append(out, live.FromWeighing(w, w.By, ""))
		}
	}
	slices.SortStableFunc(out, func(a, b store.Entry) int { return a.At.Compare(b.At) })
	for _, e := range out {
		if err := o.check(e); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// same counts the events of the same time and kind before the one at i.
func same(told []recorded.Event, i int) (n int) {
	for j := i - 1; j >= 0 && told[j].At.Equal(told[i].At); j-- {
		if told[j].Kind == told[i].Kind && told[j].Item == told[i].Item {
			n++
		}
	}
	return n
}

// check says what keeps an entry out of this household's ledger.
func (o Options) check(e store.Entry) error {
	what := e.Name
	if e.Kind == store.Weighing {
		what = "weighing"
	}
	at := e.At.UTC().Format(time.RFC3339)
	if !slices.Contains(o.Cylinders, e.Cylinder) {
		return fmt.Errorf("%s of %s: cylinder %q is not in the config; it has %s", what, at, e.Cylinder, strings.Join(o.Cylinders, ", "))
	}
	if e.At.After(o.Now.Add(sources.MaxSkew)) {
		return fmt.Errorf("%s of %s lies in the future", what, at)
	}
	return live.Valid(e)
}
