// Package storetest is what every store must do, as one suite.
package storetest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Opener opens the store that stands at a place of the suite's naming, a folder of the test's own. The suite
// closes it. Opening the same place again shows what was stored there.
type Opener func(t *testing.T, dir string) store.Store

// Exercise runs the whole suite.
func Exercise(t *testing.T, open Opener) {
	for name, f := range map[string]func(*testing.T, store.Store){
		"entry comes back":            entryComesBack,
		"same key once":               sameKeyOnce,
		"order of time":               orderOfTime,
		"read while writing":          readWhileWriting,
		"void":                        voids,
		"all or nothing":              allOrNothing,
		"cancelled writes nothing":    cancelled,
		"refused":                     refused,
		"recent":                      recent,
		"known":                       known,
		"facts":                       facts,
		"notice once":                 noticeOnce,
		"counts what is to be posted": queue,
		"urgent first":                urgentFirst,
		"urgent holds back":           urgentHoldsBack,
		"settle":                      settle,
		"overtaken":                   overtaken,
		"hasten":                      hasten,
		"history":                     history,
		"checkpoints":                 checkpoints,
	} {
		t.Run(name, func(t *testing.T) { f(t, opened(t, open, t.TempDir())) })
	}
	t.Run("survives a restart", func(t *testing.T) { restart(t, open) })
}

func opened(t *testing.T, open Opener, dir string) store.Store {
	t.Helper()
	s := open(t, dir)
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Errorf("Close: %v", err)
		}
		if err := s.Close(); err != nil {
			t.Errorf("second Close: %v", err)
		}
	})
	return s
}

// noon is when the suite's days begin; a time with more than milliseconds and another zone than UTC.
var noon = time.Date(2026, 3, 1, 12, 0, 0, 123_456_789, time.FixedZone("east", 5*3600))

func at(min float64) time.Time { return noon.Add(time.Duration(min * float64(time.Minute))) }

func stored(t time.Time) time.Time { return t.UTC().Truncate(time.Millisecond) }

func weighing(key string, min float64) store.Entry {
	return store.Entry{Key: key, Event: record.Event{Kind: record.Weighed, Cylinder: "main", At: at(min), Origin: record.Scale, Gross: 24321.5}, Received: at(min + 1)}
}

func write(t *testing.T, s store.Store, b store.Batch) store.Written {
	t.Helper()
	w, err := s.Write(context.Background(), b)
	if err != nil {
		t.Fatalf("Write: %v", err)
	}
	return w
}

func entries(t testing.TB, s store.Reader, after store.Position) (list []store.Entry) {
	t.Helper()
	for e, err := range s.Entries(context.Background(), after) {
		if err != nil {
			t.Fatalf("Entries: %v", err)
		}
		list = append(list, e)
	}
	return list
}

// All are the entries of a ledger.
func All(t testing.TB, s store.Reader) []store.Entry {
	t.Helper()
	return entries(t, s, store.Position{})
}

func keys(list []store.Entry) (k []string) {
	for _, e := range list {
		k = append(k, e.Key)
	}
	return k
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if d := cmp.Diff(want, got, cmpopts.EquateComparable(unit.Money{})); d != "" {
		t.Errorf("%s: (-want +got)\n%s", what, d)
	}
}

func entryComesBack(t *testing.T, s store.Store) {
	told := store.Entry{Key: "k", Received: at(1), Account: "42", Text: "made 3\n@everyone \x01",
		Event: record.Event{Kind: record.Made, Cylinder: "küche ' \" ; --", At: at(0), By: "Ada 🫧", Origin: record.Manual, Count: 3}}
	weighed := store.Entry{Key: "w", Received: at(2),
		Event: record.Event{Kind: record.Weighed, Cylinder: "main", At: at(1), Origin: record.Scale, Gross: 61400.000001, Temp: -3.25, HasTemp: true}}
	list := []store.Entry{told, weighed}
	w := write(t, s, store.Batch{Entries: list})
	for i := range list {
		list[i].Seq, list[i].At, list[i].Received = int64(i+1), stored(list[i].At), stored(list[i].Received)
	}
	same(t, "Written", w.Entries, list)
	same(t, "Entries", entries(t, s, store.Position{}), list)
	got, err := s.Entry(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "Entry", got, list[0])
	if _, err := s.Entry(context.Background(), 3); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("Entry(3): %v, want ErrNotFound", err)
	}
}

func sameKeyOnce(t *testing.T, s store.Store) {
	first := weighing("a", 0)
	again := weighing("a", 5)
	again.Gross = 1
	w := write(t, s, store.Batch{Entries: []store.Entry{first, again}})
	if w.Entries[0].Seq != 1 || w.Entries[1].Seq != 0 {
		t.Errorf("one batch: Seq %d, %d; want 1, 0", w.Entries[0].Seq, w.Entries[1].Seq)
	}
	if w = write(t, s, store.Batch{Entries: []store.Entry{again}}); w.Entries[0].Seq != 0 {
		t.Errorf("next batch: Seq %d, want 0", w.Entries[0].Seq)
	}
	if got := entries(t, s, store.Position{}); len(got) != 1 || got[0].Gross != first.Gross {
		t.Errorf("stored: %v", got)
	}
}

func orderOfTime(t *testing.T, s store.Store) {
	write(t, s, store.Batch{Entries: []store.Entry{weighing("c", 30), weighing("late", 10), weighing("a", 10)}})
	w := write(t, s, store.Batch{Entries: []store.Entry{weighing("first", -999999)}})
	same(t, "all", keys(entries(t, s, store.Position{})), []string{"first", "late", "a", "c"})
	same(t, "after 1", keys(entries(t, s, store.Position{At: stored(at(0)), Seq: 1})), []string{"late", "a", "c"})
	same(t, "after all", keys(entries(t, s, store.Position{At: stored(at(30)), Seq: w.Entries[0].Seq})), []string(nil))
}

func readWhileWriting(t *testing.T, s store.Store) {
	write(t, s, store.Batch{Entries: []store.Entry{weighing("a", 0), weighing("b", 1)}})
	var seen int
	for e, err := range s.Entries(context.Background(), store.Position{}) {
		if err != nil {
			t.Fatal(err)
		}
		seen++
		write(t, s, store.Batch{Void: []int64{e.Seq}, Facts: map[string]string{"at": e.Key}})
		if _, err := s.Entry(context.Background(), e.Seq); err != nil {
			t.Error(err)
		}
	}
	if seen != 2 {
		t.Errorf("saw %d entries, want 2", seen)
	}
}

func voids(t *testing.T, s store.Store) {
	write(t, s, store.Batch{Entries: []store.Entry{weighing("a", 0), weighing("b", 1)}})
	for range 2 { // twice is as good as once
		write(t, s, store.Batch{Void: []int64{1}})
	}
	got := entries(t, s, store.Position{})
	if len(got) != 2 || !got[0].Voided || got[1].Voided {
		t.Errorf("after voiding 1: %+v", got)
	}
	if _, err := s.Write(context.Background(), store.Batch{Void: []int64{7}}); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("voiding 7: %v, want ErrNotFound", err)
	}
}

func allOrNothing(t *testing.T, s store.Store) {
	_, err := s.Write(context.Background(), store.Batch{
		Entries:  []store.Entry{weighing("a", 0)},
		Outgoing: []store.Outgoing{notice("n", 0)},
		Facts:    map[string]string{"f": "1"},
		Void:     []int64{99},
	})
	if !errors.Is(err, store.ErrNotFound) {
		t.Fatalf("Write: %v, want ErrNotFound", err)
	}
	nothing(t, s)
}

func cancelled(t *testing.T, s store.Store) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := s.Write(ctx, store.Batch{Entries: []store.Entry{weighing("a", 0)}})
	if !errors.Is(err, context.Canceled) {
		t.Fatalf("Write: %v, want context.Canceled", err)
	}
	nothing(t, s)
}

func nothing(t *testing.T, s store.Store) {
	t.Helper()
	if got := entries(t, s, store.Position{}); len(got) != 0 {
		t.Errorf("entries were stored: %v", got)
	}
	if _, ok, _ := s.NextDue(context.Background()); ok {
		t.Error("a notice was stored")
	}
	if _, ok, _ := s.Fact(context.Background(), "f"); ok {
		t.Error("a fact was stored")
	}
}

func refused(t *testing.T, s store.Store) {
	nan := weighing("nan", 0)
	nan.Gross = unit.Grams(math.NaN())
	inf := weighing("inf", 0)
	inf.Temp, inf.HasTemp = unit.Celsius(math.Inf(1)), true
	keyless := weighing("", 0)
	unheard := weighing("unheard of", 0)
	unheard.Kind = "drunk"
	for name, b := range map[string]store.Batch{
		"NaN":            {Entries: []store.Entry{nan}},
		"infinite":       {Entries: []store.Entry{inf}},
		"no key":         {Entries: []store.Entry{keyless}},
		"unheard of":     {Entries: []store.Entry{unheard}},
		"no notice key":  {Outgoing: []store.Outgoing{notice("", 0)}},
		"never created":  {Outgoing: []store.Outgoing{{Key: "x"}}},
		"state unheard ": {Outgoing: []store.Outgoing{{Key: "x", Created: at(0), State: "lost"}}},
	} {
		if _, err := s.Write(context.Background(), b); err == nil {
			t.Errorf("%s: stored", name)
		}
	}
	nothing(t, s)
}

// recent: a day of readings hides nothing that somebody entered.
func recent(t *testing.T, s store.Store) {
	typed := func(key string, kind record.Kind) store.Entry {
		e := weighing(key, 50)
		e.Kind, e.Origin, e.Count = kind, record.Manual, 1
		return e
	}
	list := []store.Entry{typed("a", record.Weighed), typed("event", record.Made), typed("b", record.Weighed)}
	for i := range 144 {
		list = append(list, weighing(fmt.Sprint("scale ", i), float64(10*i)))
	}
	write(t, s, store.Batch{Entries: list})
	for _, c := range []struct {
		kind record.Kind
		n    int
		want []string
	}{
		{"", 9, []string{"b", "event", "a"}},
		{"", 2, []string{"b", "event"}},
		{record.Weighed, 1, []string{"b"}},
		{record.Made, 5, []string{"event"}},
		{record.Away, 5, nil},
		{record.Made, -1, nil},
	} {
		got, err := s.Recent(context.Background(), c.kind, c.n)
		if err != nil {
			t.Fatal(err)
		}
		same(t, string(c.kind), keys(got), c.want)
	}
}

func known(t *testing.T, s store.Store) {
	w := write(t, s, store.Batch{Entries: []store.Entry{weighing("a", 0), weighing("struck out", 1)}})
	write(t, s, store.Batch{Void: []int64{w.Entries[1].Seq}})
	for key, want := range map[string]bool{"a": true, "struck out": true, "A": false, "": false} {
		if got, err := s.Known(context.Background(), key); got != want || err != nil {
			t.Errorf("Known(%q) = %t, %v; want %t", key, got, err, want)
		}
	}
}

func facts(t *testing.T, s store.Store) {
	write(t, s, store.Batch{Facts: map[string]string{"a": "1", "b": ""}})
	write(t, s, store.Batch{Facts: map[string]string{"a": "2"}})
	for name, want := range map[string]string{"a": "2", "b": ""} {
		got, ok, err := s.Fact(context.Background(), name)
		if err != nil || !ok || got != want {
			t.Errorf("Fact(%q) = %q, %t, %v; want %q", name, got, ok, err, want)
		}
	}
	if _, ok, err := s.Fact(context.Background(), "c"); ok || err != nil {
		t.Errorf("Fact(c) = %t, %v; want none", ok, err)
	}
}
