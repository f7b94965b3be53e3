package live

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/store"
	"tarebell/bot/internal/store/storetest"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

func TestWorthKeeping(t *testing.T) {
	at := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		what      string
		kept, now unit.PPM
		later     time.Duration
		want      bool
	}{
		{"the first", 0, 450, time.Minute, true},
		{"little change", 450, 500, time.Minute, false},
		{"a quarter more", 450, 600, time.Minute, true},
		{"a quarter less", 1000, 700, time.Minute, true},
		{"an hour later", 450, 451, time.Hour, true},
		{"above the alarm", 5100, 5101, time.Minute, true},
		{"back from above", 5100, 4990, time.Minute, true},
	} {
		if got := worthKeeping(record.Event{PPM: c.kept, At: at}, record.Event{PPM: c.now, At: at.Add(c.later)}, 5000); got != c.want {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
}

// TestAcceptAir: what is worth keeping is in the ledger once; what could not be written is worth keeping the next time.
func TestAcceptAir(t *testing.T) {
	r := newRig(t)
	minutes := 0
	hear := func(ppm unit.PPM) error {
		minutes++
		return r.AcceptAir(ctx, "main", start.Add(time.Duration(minutes)*time.Minute), ppm)
	}
	for _, ppm := range []unit.PPM{450, 460, 6000, 6001} {
		if err := hear(ppm); err != nil {
			t.Fatal(err)
		}
	}
	r.store.fail = errors.New("no room")
	if err := hear(450); !errors.Is(err, r.store.fail) {
		t.Errorf("a full disk: %v", err)
	}
	r.store.fail = nil
	for range 2 {
		if err := hear(450); err != nil {
			t.Fatal(err)
		}
	}
	var got []unit.PPM
	for _, e := range storetest.All(t, r.store) {
		got = append(got, e.PPM)
	}
	if want := []unit.PPM{450, 6000, 6001, 450}; !slices.Equal(got, want) {
		t.Errorf("in the ledger %v, want %v", got, want)
	}
}

// TestPausesUnreadable: a ledger in which somebody else has changed what is remembered of pauses is not taken for one without any.
func TestPausesUnreadable(t *testing.T) {
	r := newRig(t)
	if _, err := r.store.Write(ctx, store.Batch{Facts: map[string]string{factPauses: "[{"}}); err != nil {
		t.Fatal(err)
	}
	if err := r.open(); err == nil || !strings.Contains(err.Error(), `fact "pauses" in the ledger`) {
		t.Errorf("opened with %v", err)
	}
}
