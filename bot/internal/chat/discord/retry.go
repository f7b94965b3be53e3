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

// insist tries until it works or the connection ends.
func (c *Channel) insist(ctx context.Context, what string, do func(context.Context) error) {
	r := retry{gap: c.opt.Pace.Retry, most: 10 * time.Minute, worth: func(error) bool { return ctx.Err() == nil }}
	r.failed = func(err error, wait time.Duration) { c.log.Warn(what+" failed", "err", err, "again in", wait) }
	_ = r.do(ctx, func() error { return do(ctx) })
}

// persist sends an answer until it is there: what was typed has been accepted and must be acknowledged. It
// gives up after a while, or when trying again is pointless. The end of ctx cuts off no try, only the pauses, so that
// shutting down does not eat an answer.
func (c *Channel) persist(ctx context.Context, what string, try func(context.Context) error) error {
	r := retry{tries: 6, gap: c.opt.Pace.Retry}
	r.worth = func(err error) bool { return !errors.Is(err, chat.ErrPermanent) && asked(err) <= 5*time.Minute }
	r.failed = func(err error, wait time.Duration) {
		c.log.Warn("answer not delivered yet", "what", what, "err", err, "again in", wait)
	}
	return r.do(ctx, func() error {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 20*time.Second)
		defer cancel()
		return try(ctx)
	})
}
