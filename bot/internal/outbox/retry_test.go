package outbox

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestGap(t *testing.T) {
	for _, c := range []struct {
		table    Table
		attempts int
		want     time.Duration
	}{
		{CalmTable, 0, 2 * time.Second},
		{CalmTable, 1, 2 * time.Second},
		{CalmTable, 2, 4 * time.Second},
		{CalmTable, 9, 512 * time.Second},
		{CalmTable, 10, 15 * time.Minute},
		{CalmTable, math.MaxInt, 15 * time.Minute},
		{UrgentTable, 1, time.Second},
		{UrgentTable, 6, 32 * time.Second},
		{UrgentTable, 7, time.Minute},
		{UrgentTable, 1000, time.Minute},
	} {
		if got := c.table.Gap(c.attempts); got != c.want {
			t.Errorf("%v, attempt %d: %v, want %v", c.table, c.attempts, got, c.want)
		}
	}
}

// 2 s is 2·10⁹ ns < 2³¹ ns; doubled 32 times it still fits in 63 bits, 33 times it does not.
func TestGrowthOverflow(t *testing.T) {
	if got, want := growth(2*time.Second, 33), 2*time.Second<<32; got != want || got < 0 {
		t.Errorf("attempt 33: %d, want %d", got, want)
	}
	for _, attempts := range []int{34, 64, 65, 1 << 40} {
		if got := growth(2*time.Second, attempts); got != math.MaxInt64 {
			t.Errorf("attempt %d: %d, want the longest Duration", attempts, got)
		}
	}
}

// The spread is the same for the same notice, stays in its band and uses it.
func TestSpread(t *testing.T) {
	low, high := 2.0, 0.0
	for i := range 1000 {
		s := spread("status", i)
		if s < 0.75 || s >= 1.25 || s != spread("status", i) {
			t.Fatalf("attempt %d: %v", i, s)
		}
		low, high = min(low, s), max(high, s)
	}
	if low > 0.76 || high < 1.24 {
		t.Errorf("spread over [%v, %v] only", low, high)
	}
	if spread("a", 1) == spread("b", 1) {
		t.Error("two notices come back in the same moment")
	}
}

func TestWaitGrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key, n := rapid.String().Draw(t, "key"), rapid.IntRange(1, 200).Draw(t, "attempts")
		for _, table := range []Table{UrgentTable, CalmTable} {
			w := table.Wait(key, n)
			if w < table.First*3/4 || w > table.Most*5/4 {
				t.Fatalf("attempt %d: %v", n, w)
			}
			if g := table.Gap(n + 1); g < table.Gap(n) {
				t.Fatalf("attempt %d: the gap shrinks to %v", n+1, g)
			}
		}
	})
}
