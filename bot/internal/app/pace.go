package app

import (
	"errors"
	"time"

	"github.com/cenkalti/backoff/v5"

	"tarebell/forecast"
	"tarebell/sources"
)

// pacer says when a device is asked again. After a failure that is sooner than usual at first, and later where the device asked for it.
type pacer struct {
	every time.Duration
	most  time.Duration // that a device may ask for
	again *backoff.ExponentialBackOff
}

// firstAgain is until a device that failed is asked again, if it is not asked more often anyway.
const firstAgain = 5 * time.Second

func newPacer(every, most time.Duration) *pacer {
	b := backoff.NewExponentialBackOff()
	b.InitialInterval, b.Multiplier, b.RandomizationFactor, b.MaxInterval = min(firstAgain, every), 2, 0.25, every
	b.Reset()
	return &pacer{every, max(most, every), b}
}

// next is how long to wait after a try that ended with err. A ledger that takes nothing gets no more tries than usual: each reads it
// from one end to the other.
func (p *pacer) next(err error, pace forecast.Pace) time.Duration {
	var f *sources.Failure
	if !errors.As(err, &f) {
		if err == nil {
			p.again.Reset()
		}
		return gap(p.every, pace)
	}
	wait := min(p.again.NextBackOff(), gap(p.every, pace))
	return max(wait, min(f.After, p.most))
}
