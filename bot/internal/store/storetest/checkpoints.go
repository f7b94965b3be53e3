package storetest

import (
	"context"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// checkpoints: one holds until the past before it changes, whoever changes it, and one slot holds one.
func checkpoints(t *testing.T, s store.Store) {
	ctx := context.Background()
	day := func(n int) time.Time { return noon.UTC().Truncate(time.Millisecond).AddDate(0, 0, n) }
	entry := func(key string, n int) store.Entry {
		return store.Entry{Key: key, Event: record.Event{Kind: record.Weighed, At: day(n)}, Received: day(n)}
	}
	keep := func(n, slot int, print string) store.Checkpoint {
		return store.Checkpoint{Position: store.Position{At: day(n)}, Slot: slot, Print: print, State: []byte{byte(n)}}
	}
	held := func(print string) (out []byte) {
		for before := (time.Time{}); ; {
			c, ok, err := s.Checkpoint(ctx, print, before)
			if err != nil {
				t.Fatal(err)
			}
			if !ok {
				return out
			}
			out, before = append(out, c.State[0]), c.At
		}
	}
	want := func(what string, print string, list ...byte) {
		t.Helper()
		if got := held(print); string(got) != string(list) {
			t.Errorf("%s: checkpoints of days %v, want %v", what, got, list)
		}
	}
	write(t, s, store.Batch{Entries: []store.Entry{entry("1", 1), entry("2", 2), entry("3", 3)}, Checkpoints: []store.Checkpoint{keep(1, 0, "p"), keep(2, 1, "p"), keep(3, 2, "p")}})
	want("at first", "p", 3, 2, 1)
	want("of another program", "q")
	write(t, s, store.Batch{Entries: []store.Entry{entry("4", 3)}})
	want("an entry of the same moment, which comes after it", "p", 3, 2, 1)
	if c, _, _ := s.Checkpoint(ctx, "p", time.Time{}); c.Seq != 3 || !c.At.Equal(day(3)) {
		t.Errorf("stands at %+v, want after entry 3", c.Position)
	}
	write(t, s, store.Batch{Entries: []store.Entry{entry("3", 1)}})
	want("a known key", "p", 3, 2, 1)
	write(t, s, store.Batch{Void: []int64{3}})
	want("the third undone", "p", 2, 1)
	late := entry("late", 2)
	late.At = late.At.Add(-time.Millisecond)
	write(t, s, store.Batch{Entries: []store.Entry{late}, Checkpoints: []store.Checkpoint{keep(3, 2, "p")}})
	want("entered late, and kept anew in the same transaction", "p", 3, 1)
	write(t, s, store.Batch{Checkpoints: []store.Checkpoint{keep(4, 0, "p")}})
	want("in the slot of the first", "p", 4, 3)
	sub := keep(4, 1, "p")
	sub.At = sub.At.Add(time.Microsecond)
	write(t, s, store.Batch{Checkpoints: []store.Checkpoint{sub}})
	if c, _, _ := s.Checkpoint(ctx, "p", time.Time{}); !c.At.Equal(day(4).Add(time.Millisecond)) {
		t.Errorf("a moment within a millisecond stands at %s", c.At)
	}
	write(t, s, store.Batch{Checkpoints: []store.Checkpoint{keep(5, 5, "q")}})
	want("of an older program", "p")
	want("of this program", "q", 5)
}
