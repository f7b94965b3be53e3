package storetest

import (
	"context"
	"errors"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

func notice(key string, min float64) store.Outgoing {
	return store.Outgoing{Key: key, Kind: "status", Created: at(min), Payload: []byte(`{"headline":"` + key + `"}`)}
}

func urgent(o store.Outgoing) store.Outgoing { o.Urgent = true; return o }

// claim returns the key of the next one, "" for none.
func claim(t *testing.T, s store.Store, min float64) store.Outgoing {
	t.Helper()
	o, ok, err := s.Claim(context.Background(), at(min))
	if err != nil {
		t.Fatalf("Claim: %v", err)
	}
	if ok && o.State != store.Posting {
		t.Errorf("claimed %q is %q, want posting", o.Key, o.State)
	}
	return o
}

func settled(t *testing.T, s store.Store, o store.Outgoing) {
	t.Helper()
	if err := s.Settle(context.Background(), o); err != nil {
		t.Fatalf("Settle: %v", err)
	}
}

// again settles o as failed for now, with another attempt at min.
func again(t *testing.T, s store.Store, o store.Outgoing, min float64) {
	t.Helper()
	o.State, o.Next, o.Attempts = store.Waiting, at(min), o.Attempts+1
	settled(t, s, o)
}

func claims(t *testing.T, s store.Store, min float64, want ...string) {
	t.Helper()
	var got []string
	for {
		o := claim(t, s, min)
		if o.Key == "" {
			break
		}
		got = append(got, o.Key)
	}
	same(t, "claimed", got, want)
}

func noticeOnce(t *testing.T, s store.Store) {
	w := write(t, s, store.Batch{Outgoing: []store.Outgoing{notice("a", 0), notice("a", 1)}})
	if w.Outgoing != 1 {
		t.Errorf("new: %d, want 1", w.Outgoing)
	}
	got := claim(t, s, 0)
	got.State = store.Posted
	settled(t, s, got)
	if w = write(t, s, store.Batch{Outgoing: []store.Outgoing{notice("a", 2)}}); w.Outgoing != 0 {
		t.Errorf("posted before, new: %d, want 0", w.Outgoing)
	}
	claims(t, s, 99)
}

func urgentFirst(t *testing.T, s store.Store) {
	later := notice("later", -30)
	later.Next = at(50)
	write(t, s, store.Batch{Outgoing: []store.Outgoing{
		notice("b", 2), notice("a", 1), urgent(notice("leak 2", 5)), later, urgent(notice("leak 1", 3)), notice("future", 20)}})
	if o := claim(t, s, 0); o.Key != "" {
		t.Errorf("claimed %q before its time", o.Key)
	}
	due, ok, err := s.NextDue(context.Background())
	if err != nil || !ok || !due.Equal(stored(at(1))) {
		t.Errorf("NextDue = %v, %t, %v; want %v", due, ok, err, stored(at(1)))
	}
	claims(t, s, 10, "leak 1", "leak 2", "a", "b")
	claims(t, s, 60, "later", "future")
	if _, ok, _ := s.NextDue(context.Background()); ok {
		t.Error("NextDue after all are claimed")
	}
}

// urgentHoldsBack: between two attempts of an urgent notice no other is sent, until patience ends.
func urgentHoldsBack(t *testing.T, s store.Store) {
	write(t, s, store.Batch{Outgoing: []store.Outgoing{urgent(notice("leak", 0)), notice("status", 0)}})
	for i := range store.Patience {
		o := claim(t, s, float64(i))
		if o.Key != "leak" {
			t.Fatalf("attempt %d: claimed %q", i+1, o.Key)
		}
		again(t, s, o, float64(i)+1)
		due, ok, err := s.NextDue(context.Background())
		if want := stored(at(float64(i) + 1)); i+1 < store.Patience && (err != nil || !ok || !due.Equal(want)) {
			t.Errorf("attempt %d: NextDue = %v, %t, %v; want %v", i+1, due, ok, err, want)
		}
		if i+1 < store.Patience {
			claims(t, s, float64(i)+0.5)
		}
	}
	claims(t, s, store.Patience-0.5, "status")
}

func settle(t *testing.T, s store.Store) {
	o := notice("a", 0)
	o.Group, o.Edits, o.Urgent, o.Due = "main/status", "earlier", true, at(-5)
	write(t, s, store.Batch{Outgoing: []store.Outgoing{o}})
	got := claim(t, s, 0)
	if got.ID == 0 {
		t.Error("no ID")
	}
	o.ID, o.State = got.ID, store.Posting
	o.Created, o.Due, o.Next = stored(at(0)), stored(at(-5)), stored(at(-5))
	same(t, "claimed", got, o)

	o.State, o.Next, o.Attempts, o.Unsure, o.Refused, o.Posted, o.Err = store.Failed, stored(at(7)), 3, true, 2, "id", "gone"
	settled(t, s, o)
	got, err := s.Outgoing(context.Background(), "a")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "settled", got, o)
	if _, err := s.Outgoing(context.Background(), "b"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("Outgoing(b): %v, want ErrNotFound", err)
	}
	o.ID = 99
	if err := s.Settle(context.Background(), o); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("Settle of an unknown one: %v, want ErrNotFound", err)
	}
}

func overtaken(t *testing.T, s store.Store) {
	var list []store.Outgoing
	for i, group := range []string{"main", "spare", "main", "", ""} {
		o := notice(string(rune('a'+i)), float64(i))
		o.Group = group
		list = append(list, o)
	}
	write(t, s, store.Batch{Outgoing: list})
	for _, want := range []bool{true, false, false, false, false} {
		o := claim(t, s, 99)
		got, err := s.Overtaken(context.Background(), o)
		if err != nil || got != want {
			t.Errorf("Overtaken(%q) = %t, %v; want %t", o.Key, got, err, want)
		}
	}
	for state, want := range map[store.State]bool{store.Posted: true, store.Failed: false, store.Dropped: false} {
		newer, err := s.Outgoing(context.Background(), "c")
		if err != nil {
			t.Fatal(err)
		}
		newer.State = state
		settled(t, s, newer)
		older, err := s.Outgoing(context.Background(), "a")
		if err != nil {
			t.Fatal(err)
		}
		if got, err := s.Overtaken(context.Background(), older); err != nil || got != want {
			t.Errorf("Overtaken with a newer one %s = %t, %v; want %t", state, got, err, want)
		}
	}
}

func hasten(t *testing.T, s store.Store) {
	quiet := notice("not tried yet", 0)
	quiet.Next = at(60)
	write(t, s, store.Batch{Outgoing: []store.Outgoing{notice("tried", 0), quiet}})
	again(t, s, claim(t, s, 0), 30)
	n, err := s.Hasten(context.Background(), at(10))
	if err != nil || n != 1 {
		t.Errorf("Hasten = %d, %v; want 1", n, err)
	}
	claims(t, s, 10, "tried")
}

func history(t *testing.T, s store.Store) {
	answer := notice("d", 4)
	answer.Kind = store.Answer
	write(t, s, store.Batch{Outgoing: []store.Outgoing{notice("c", 3), notice("a", 1), notice("b", 2), answer}})
	got, err := s.History(context.Background(), 2)
	if err != nil || len(got) != 2 || got[0].Key != "b" || got[1].Key != "a" {
		t.Errorf("History(2) = %v, %v; want b, a", got, err)
	}
}

func restart(t *testing.T, open Opener) {
	dir := t.TempDir()
	s := open(t, dir)
	write(t, s, store.Batch{Entries: []store.Entry{weighing("a", 0)}, Facts: map[string]string{"f": "1"},
		Outgoing: []store.Outgoing{notice("claimed", 0), notice("waiting", 1)}})
	claim(t, s, 0)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	s = opened(t, open, dir)
	if w := write(t, s, store.Batch{Entries: []store.Entry{weighing("a", 0), weighing("b", 0)}}); w.Entries[0].Seq != 0 || w.Entries[1].Seq < 2 {
		t.Errorf("after a restart: Seq %d, %d; want 0 and more than 1", w.Entries[0].Seq, w.Entries[1].Seq)
	}
	if f, ok, err := s.Fact(context.Background(), "f"); f != "1" || !ok || err != nil {
		t.Errorf("Fact = %q, %t, %v", f, ok, err)
	}
	list, err := s.Unsettled(context.Background())
	if err != nil || len(list) != 1 || list[0].Key != "claimed" {
		t.Fatalf("Unsettled = %v, %v; want the claimed one", list, err)
	}
	claims(t, s, 5, "waiting")
	o := list[0]
	o.State, o.Unsure, o.Next = store.Waiting, true, at(5)
	settled(t, s, o)
	if o = claim(t, s, 5); o.Key != "claimed" || !o.Unsure {
		t.Errorf("claimed %q, unsure %t; want the unsettled one, unsure", o.Key, o.Unsure)
	}
}

// Fill writes days of weighings, one every ten minutes, for benchmarks, and says how many those are.
func Fill(tb testing.TB, s store.Store, days int) (n int) {
	tb.Helper()
	start := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	end := start.AddDate(0, 0, days)
	for t := start; t.Before(end); {
		var b store.Batch
		for ; len(b.Entries) < 10_000 && t.Before(end); t = t.Add(10 * time.Minute) {
			b.Entries = append(b.Entries, store.Entry{Key: "main/" + t.Format(time.RFC3339), Received: t, Event: record.Event{Kind: record.Weighed, Cylinder: "main",
				At: t, Origin: record.Scale, Gross: unit.Grams(24321.5 - float64(n)), Temp: 20.5, HasTemp: true}})
			n++
		}
		if _, err := s.Write(context.Background(), b); err != nil {
			tb.Fatal(err)
		}
	}
	return n
}

// queue counts what is not in the channel yet, whether it waits or is being posted.
func queue(t *testing.T, s store.Store) {
	want := func(n int) {
		t.Helper()
		if got, err := s.Queue(context.Background()); err != nil || got != n {
			t.Errorf("%d in the queue, want %d (%v)", got, n, err)
		}
	}
	want(0)
	write(t, s, store.Batch{Outgoing: []store.Outgoing{notice("a", 0), notice("b", 0)}})
	want(2)
	o := claim(t, s, 0)
	want(2)
	o.State = store.Posted
	settled(t, s, o)
	want(1)
}
