package demo

import (
	"bytes"
	"context"
	"strings"
	"testing"
)

// TestWeeks runs the demo for two weeks: the real program on an invented household, start to end.
func TestWeeks(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	var out bytes.Buffer
	if err := Run(context.Background(), Options{Out: &out, Seed: 4, Weeks: 2}); err != nil {
		t.Fatal(err)
	}
	text := out.String()
	for _, want := range []string{"are made up", "Joon: ", "Noted: ", "Did you mean ", "presses [", "enough until", "What was true, and what was said", "polls over HTTP"} {
		if !strings.Contains(text, want) {
			t.Errorf("nothing in two weeks says %q:\n%s", want, text)
		}
	}
	if n := strings.Count(text, "Sun "); n < 2 {
		t.Errorf("%d messages on Sundays, want a status on each of two", n)
	}
}

func TestStopsWhenTold(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if err := Run(ctx, Options{Out: &bytes.Buffer{}, Seed: 4, Weeks: 2}); err == nil {
		t.Error("a demo that was told to stop ended as if it had finished")
	}
}
