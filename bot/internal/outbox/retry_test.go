package outbox

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/bot/internal/backoff"
)

// The spread is the same for the same notice, stays in its band and uses it.
func TestSpread(t *testing.T) {
	second := backoff.Gaps{First: time.Second, Most: time.Second}
	low, high := 2.0, 0.0
	for i := range 1000 {
		s := spread(second, "status", i).Seconds()
		if s < 0.75 || s >= 1.25 || s != spread(second, "status", i).Seconds() {
			t.Fatalf("attempt %d: %v", i, s)
		}
		low, high = min(low, s), max(high, s)
	}
	if low > 0.76 || high < 1.24 {
		t.Errorf("spread over [%v, %v] only", low, high)
	}
	if spread(second, "a", 1) == spread(second, "b", 1) {
		t.Error("two notices come back in the same moment")
	}
}

func TestWaitGrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key, n := rapid.String().Draw(t, "key"), rapid.IntRange(1, 200).Draw(t, "attempts")
		for _, gaps := range []backoff.Gaps{urgentGaps, calmGaps} {
			w := spread(gaps, key, n)
			if w < gaps.First*3/4 || w > gaps.Most*5/4 {
				t.Fatalf("attempt %d: %v", n, w)
			}
			if g := gaps.After(n + 1); g < gaps.After(n) {
				t.Fatalf("attempt %d: the gap shrinks to %v", n+1, g)
			}
		}
	})
}
