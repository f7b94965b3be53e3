package discord

import (
	"context"
	"errors"
	"time"

	"tarebell/bot/internal/chat"
)

// AnswerThrough says who keeps answers for the channel and posts them, also when the platform or this process is away for
// long; Post is called for each. To be called before Run. Without it an answer is tried for a while and then given up.
func (c *Channel) AnswerThrough(keep func(context.Context, chat.Message) error) { c.keep = keep }

// deliver sees to it that an answer comes into the channel.
func (c *Channel) deliver(ctx context.Context, m chat.Message) {
	if c.keep != nil {
		err := c.keep(context.WithoutCancel(ctx), m)
		if err == nil {
			return
		}
		c.log.Error("an answer cannot be kept; trying to post it at once", "err", err)
	}
	c.sends.Go(func() {
		c.guarded(func() {
			if err := c.persist(ctx, m); err != nil {
				c.log.Error("an answer in the channel was not delivered", "err", err)
			}
		})
	})
}

// persist posts an answer that nobody keeps. It gives up after a while, or when trying again is pointless. The end of
// ctx cuts off no try, only the pauses, so that shutting down does not eat an answer.
func (c *Channel) persist(ctx context.Context, m chat.Message) error {
	r := retry{tries: 6, gap: c.opt.Pace.Retry}
	r.worth = func(err error) bool { return !errors.Is(err, chat.ErrPermanent) && asked(err) <= 5*time.Minute }
	r.failed = func(err error, wait time.Duration) {
		c.log.Warn("answer not delivered yet", "err", err, "again in", wait)
	}
	return r.do(ctx, func() error {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 20*time.Second)
		defer cancel()
		_, err := c.Post(ctx, m)
		return err
	})
}
