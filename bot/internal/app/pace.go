package app

import (
	"errors"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/forecast"
	"tarebell/sources"
)

// pacer says when a device is asked again. After a failure that is sooner than usual at first, and later where the device asked for it.
type pacer struct {
	every  time.Duration
	most   time.Duration // that a device may ask for
	gaps   backoff.Gaps
	failed int // tries in a row
}

// firstAgain is until a device that failed is asked again, if it is not asked more often anyway.
const firstAgain = 5 * time.Second

func newPacer(every, most time.Duration) *pacer {
	return &pacer{every: every, most: max(most, every), gaps: backoff.Gaps{First: min(firstAgain, every), Most: every}}
}

// next is how long to wait after a try that ended with err. A ledger that takes nothing gets no more tries than usual: each reads it
// from one end to the other.
func (p *pacer) next(err error, pace forecast.Pace) time.Duration {
	var f *sources.Failure
	if !errors.As(err, &f) {
		if err == nil {
			p.failed = 0
		}
		return gap(p.every, pace)
	}
	p.failed++
	wait := min(jitter(p.gaps.After(p.failed)), gap(p.every, pace))
	return max(wait, min(f.After, p.most))
}
