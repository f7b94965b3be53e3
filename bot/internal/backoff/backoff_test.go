package backoff

import (
	"context"
	"math"
	"testing"
	"testing/synctest"
	"time"
)

func TestGaps(t *testing.T) {
	calm, urgent := Gaps{2 * time.Second, 15 * time.Minute}, Gaps{time.Second, time.Minute}
	for _, c := range []struct {
		gaps     Gaps
		failures int
		want     time.Duration
	}{
		{calm, 0, 2 * time.Second}, {calm, 1, 2 * time.Second}, {calm, 2, 4 * time.Second}, {calm, 9, 512 * time.Second},
		{calm, 10, 15 * time.Minute}, {calm, math.MaxInt, 15 * time.Minute},
		{urgent, 1, time.Second}, {urgent, 6, 32 * time.Second}, {urgent, 7, time.Minute}, {urgent, 1000, time.Minute},
	} {
		if got := c.gaps.After(c.failures); got != c.want {
			t.Errorf("%v after %d failures: %v, want %v", c.gaps, c.failures, got, c.want)
		}
	}
}

func TestPause(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		took := func() (d time.Duration) { d, begin = time.Since(begin), time.Now(); return d }
		if !Pause(t.Context(), time.Hour) || took() != time.Hour {
			t.Error("an hour was not waited for")
		}
		short, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		if Pause(short, time.Hour) || took() != 0 {
			t.Error("a pause beyond the deadline was begun")
		}
		ended, end := context.WithCancel(t.Context())
		time.AfterFunc(time.Minute, end)
		if Pause(ended, time.Hour) || took() != time.Minute {
			t.Error("the pause goes on after its context")
		}
	})
}
