// Package sourcetest is one suite for every source of weighings: whatever an adapter reads, the household may
// rely on what is tested here.
package sourcetest

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

// Case is a source over a known world.
type Case struct {
	Source sources.Source
	// Want is what the source brings, in order. Cylinder, Gross, Temp, HasTemp, At, Origin and By are compared.
	Want      []record.Event
	Tolerance unit.Grams // of Gross

	Break   func()   // makes the next poll fail; nil: it cannot be broken
	Mend    func()   // undoes Break
	Secrets []string // that no text of the source may contain
}

// Exercise runs the suite. open makes the same world anew each time.
func Exercise(t *testing.T, open func(t *testing.T) Case) {
	t.Run("brings what is there", func(t *testing.T) { brings(t, open(t)) })
	t.Run("a repeat has the same key", func(t *testing.T) { repeats(t, open(t), open(t)) })
	t.Run("stops when told", func(t *testing.T) { stops(t, open(t)) })
	t.Run("explains a failure and goes on", func(t *testing.T) { explains(t, open(t)) })
}

func poll(t *testing.T, c Case) record.Event {
	t.Helper()
	w, err := c.Source.Poll(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func brings(t *testing.T, c Case) {
	if len(c.Want) < 2 {
		t.Fatal("want at least two weighings to compare")
	}
	keys := map[string]bool{}
	for i, want := range c.Want {
		got := poll(t, c)
		if err := sources.Check(got, time.Time{}); err != nil {
			t.Errorf("%d: does not pass the checks: %v", i, err)
		}
		key := sources.Key(got)
		if keys[key] {
			t.Errorf("%d: key %q again", i, key)
		}
		keys[key] = true
		if math.Abs(float64(got.Gross-want.Gross)) > float64(c.Tolerance) {
			t.Errorf("%d: gross %v, want %v", i, got.Gross, want.Gross)
		}
		if !got.At.Equal(want.At) || got.At.Location() != time.UTC || !got.At.Equal(got.At.Truncate(time.Millisecond)) {
			t.Errorf("%d: at %v, want %v in UTC and whole milliseconds", i, got.At, want.At)
		}
		if got.HasTemp != want.HasTemp || math.Abs(float64(got.Temp-want.Temp)) > 1e-9 {
			t.Errorf("%d: temperature %v %v, want %v %v", i, got.HasTemp, got.Temp, want.HasTemp, want.Temp)
		}
		if got.Cylinder != want.Cylinder || got.Origin != want.Origin || got.By != want.By {
			t.Errorf("%d: got %+v, want %+v", i, got, want)
		}
	}
}

func repeats(t *testing.T, a, b Case) {
	for range a.Want {
		if x, y := sources.Key(poll(t, a)), sources.Key(poll(t, b)); x != y {
			t.Errorf("the same weighing has keys %q and %q", x, y)
		}
	}
}

func stops(t *testing.T, c Case) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if w, err := c.Source.Poll(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("after cancel: %+v, %v", w, err)
	}
	if got := poll(t, c); !got.At.Equal(c.Want[0].At) {
		t.Errorf("a cancelled poll lost the weighing of %v: next is %v", c.Want[0].At, got.At)
	}
}

func explains(t *testing.T, c Case) {
	if c.Break == nil {
		t.Skip("cannot be broken")
	}
	c.Break()
	_, err := c.Source.Poll(context.Background())
	f := (*sources.Failure)(nil)
	if !errors.As(err, &f) {
		t.Fatalf("got %v, want a *sources.Failure", err)
	}
	Explained(t, f, c.Secrets...)
	c.Mend()
	poll(t, c)
}

// MaxText bounds the text of a failure, in characters.
const MaxText = 400

// Explained checks that a failure can be shown: what was read and what would be right on one line, bounded,
// and no secret.
func Explained(t *testing.T, f *sources.Failure, secrets ...string) {
	t.Helper()
	s := f.Error()
	if f.Read == "" || f.Kind == "" {
		t.Errorf("says nothing of what was read: %#v", f)
	}
	if n := len([]rune(s)); n > MaxText || strings.ContainsAny(s, "\n\r\t\x00\x1b") {
		t.Errorf("not one short line (%d characters): %q", n, s)
	}
	for _, secret := range secrets {
		if strings.Contains(s, secret) {
			t.Errorf("shows the secret %q: %s", secret, s)
		}
		if f.Err != nil && strings.Contains(f.Err.Error(), secret) {
			t.Errorf("its cause shows the secret %q: %v", secret, f.Err)
		}
	}
}
