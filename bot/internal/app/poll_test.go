package app

import (
	"testing"
	"time"

	"tarebell/forecast"
)

// TestGap: a scale of slow pace is read again in minutes where that tells something; a quick one keeps its pace. Polls are spread by
// a twentieth each way.
func TestGap(t *testing.T) {
	for _, c := range []struct {
		every    time.Duration
		pace     forecast.Pace
		from, to time.Duration
	}{
		{time.Hour, forecast.Usual, 57 * time.Minute, 63 * time.Minute},
		{time.Hour, forecast.Soon, soonGap, soonGap},
		{time.Hour, forecast.AtOnce, soonGap, soonGap}, // it was repeated at once already
		{time.Minute, forecast.Soon, 57 * time.Second, 63 * time.Second},
	} {
		for range 100 {
			if got := gap(c.every, c.pace); got < c.from || got > c.to {
				t.Errorf("every %v, pace %v: %v, want %v to %v", c.every, c.pace, got, c.from, c.to)
			}
		}
	}
}
