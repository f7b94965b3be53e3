package discord

import (
	"context"
	"errors"
	"time"

	"tarebell/bot/internal/chat"
)

// retry says how something is tried again that failed.
type retry struct {
	tries  int                                 // at most; 0: without end. A pause that the platform asks for doesn't count
	gap    time.Duration                       // after the first failure; doubled after each
	most   time.Duration                       // the longest gap; 0: without end
	worth  func(err error) bool                // nil: whatever is not permanent
	failed func(err error, wait time.Duration) // told before each pause; may be nil
}

// do tries until it works, until trying again is not worth it, or until there is no time left for a pause.
func (r retry) do(ctx context.Context, try func() error) error {
	if r.worth == nil {
		r.worth = func(err error) bool { return !errors.Is(err, chat.ErrPermanent) }
	}
	for tries := 1; ; {
		err := try()
		if err == nil || !r.worth(err) {
			return err
		}
		wait := max(asked(err), r.gap)
		if asked(err) == 0 {
			if tries == r.tries {
				return err
			}
			tries++
			r.gap *= 2
			if r.most > 0 {
				r.gap = min(r.gap, r.most)
			}
		}
		if r.failed != nil {
			r.failed(err, wait)
		}
		if !pause(ctx, wait) {
			return err
		}
	}
}

// asked is the pause that the platform asks for, 0 if none.
func asked(err error) time.Duration {
	var wait *chat.RetryAfter
	if errors.As(err, &wait) {
		return wait.After
	}
	return 0
}

// pause waits for d; false means that ctx ends first.
func pause(ctx context.Context, d time.Duration) bool {
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

// insist tries until it works or ctx ends. Meanwhile the trouble shows in the health.
func (c *Channel) insist(ctx context.Context, what string, most time.Duration, do func(context.Context) error) {
	r := retry{gap: c.opt.Pace.Retry, most: most, worth: func(error) bool { return ctx.Err() == nil }}
	r.failed = func(err error, _ time.Duration) { c.trouble(what, err) }
	if err := r.do(ctx, func() error { return do(ctx) }); err == nil {
		c.trouble(what, nil)
	}
}
