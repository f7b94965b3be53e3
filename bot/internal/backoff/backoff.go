// Package backoff says how long to wait before something that failed is tried again, and waits.
//
// The gaps are a function of how often it failed, so that a count that was kept over a restart is enough to go on.
package backoff

import (
	"context"
	"time"
)

// Gaps are the waits between attempts: First after the first failure, doubled after each further one, at most Most.
type Gaps struct{ First, Most time.Duration }

// After is the gap after a number of failures in a row (1, 2, …).
func (g Gaps) After(failures int) time.Duration {
	gap := g.First
	for ; failures > 1 && gap < g.Most; failures-- {
		gap *= 2
	}
	return min(gap, g.Most)
}

// Pause waits for d and reports whether it did: false, at once, if ctx ends before.
func Pause(ctx context.Context, d time.Duration) bool {
	if deadline, ok := ctx.Deadline(); ok && time.Until(deadline) < d {
		return false
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}
