package discord

import (
	"context"
	"errors"
	"time"

	"tarebell/bot/internal/backoff"
	"tarebell/bot/internal/chat"
)

// retry says how a request is tried again that failed and that the outbox does not repeat.
type retry struct {
	tries  int // at most; 0: without end. A pause that the platform asks for doesn't count
	gaps   backoff.Gaps
	worth  func(err error) bool // nil: whatever is not permanent
	failed func(err error)      // told before each pause; may be nil
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
		pause, _ := chat.Pause(err)
		wait := max(pause, r.gaps.After(tries))
		if pause == 0 {
			if tries == r.tries {
				return err
			}
			tries++
		}
		if r.failed != nil {
			r.failed(err)
		}
		if !backoff.Pause(ctx, wait) {
			return err
		}
	}
}

// asksForPause says whether an error is a refusal that asks for a pause: what was to be done was certainly not done.
func asksForPause(err error) bool {
	after, _ := chat.Pause(err)
	return after > 0
}

// untilDone tries until it works or ctx ends. Meanwhile the trouble shows in the health.
func (c *Channel) untilDone(ctx context.Context, what string, most time.Duration, do func(context.Context) error) {
	r := retry{gaps: backoff.Gaps{First: time.Second, Most: most}, worth: func(error) bool { return ctx.Err() == nil }}
	r.failed = func(err error) { c.noteTrouble(what, err) }
	if err := r.do(ctx, func() error { return do(ctx) }); err == nil {
		c.noteTrouble(what, nil)
	}
}
