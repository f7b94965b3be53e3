package discord

import (
	"context"
	"time"

	"tarebell/bot/internal/chat"
)

// AnswerThrough says who keeps answers for the channel and posts them, also when the platform or this process is away for
// long; Post is called for each. To be called before Run. Without it an answer is posted once.
func (c *Channel) AnswerThrough(keep func(context.Context, chat.Message) error) { c.keep = keep }

// deliver sees to it that an answer comes into the channel.
func (c *Channel) deliver(ctx context.Context, m chat.Message) {
	ctx = context.WithoutCancel(ctx) // shutting down does not eat an answer
	if c.keep != nil {
		err := c.keep(ctx, m)
		if err == nil {
			return
		}
		c.log.Error("an answer cannot be kept; posting it at once", "err", err)
	}
	c.background(func() {
		ctx, cancel := context.WithTimeout(ctx, 20*time.Second)
		defer cancel()
		if _, err := c.Post(ctx, m); err != nil {
			c.log.Error("an answer in the channel was not delivered", "err", err)
		}
	})
}
