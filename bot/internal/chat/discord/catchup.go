package discord

import (
	"context"
	"slices"
	"time"

	"github.com/bwmarrin/discordgo"
)

// settleIn does what a new connection needs: the commands, once, and what was typed while nobody listened.
func (c *Channel) settleIn(ctx context.Context, epoch int) {
	c.guarded(func() {
		c.insist(ctx, "catching up with the channel", func(ctx context.Context) error { return c.catchUp(ctx, epoch) })
		if !c.Health().Registered {
			c.insist(ctx, "registering the commands", func(ctx context.Context) error {
				return c.registered(c.register(ctx, c.place()))
			})
		}
	})
}

// insist tries until it works or the connection ends; the pauses grow to ten minutes.
func (c *Channel) insist(ctx context.Context, what string, do func(context.Context) error) {
	for gap := c.opt.Pace.Retry; ; gap = min(2*gap, 10*time.Minute) {
		err := do(ctx)
		if err == nil || ctx.Err() != nil {
			return
		}
		c.log.Warn(what+" failed", "err", err, "again in", gap)
		if !pause(ctx, gap) {
			return
		}
	}
}

func (c *Channel) registered(err error) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err != nil {
		c.health.Err = err.Error()
		return err
	}
	c.health.Registered, c.health.Err = true, ""
	return nil
}

// catchUp puts into the queue what was typed after the last message that was handled. On the very first
// connection there is nothing: what is older than the bot is not for it.
func (c *Channel) catchUp(ctx context.Context, epoch int) error {
	after, err := c.lastSeen(ctx)
	if err != nil {
		return err
	}
	if after == "" {
		after = c.place().newest
		if after == "" {
			after = snowflake(time.Now())
		}
		c.finishCatchUp(after, epoch)
		return nil
	}
	for range maxPages {
		list, err := c.page(ctx, "reading what was typed meanwhile", after)
		if err != nil {
			return err
		}
		list = slices.DeleteFunc(list, func(m *discordgo.Message) bool { return m == nil || m.ID == "" })
		slices.SortFunc(list, func(a, b *discordgo.Message) int {
			if a.ID == b.ID {
				return 0
			}
			if newer(a.ID, b.ID) == b.ID {
				return -1
			}
			return 1
		})
		for _, m := range list {
			after = newer(after, m.ID)
			c.queue.put(func(ctx context.Context) { c.hear(ctx, m) })
		}
		if len(list) < pageSize {
			break
		}
	}
	c.finishCatchUp(after, epoch)
	return nil
}

// finishCatchUp lets the mark move on once all that was put into the queue has been handled, if the connection
// that it was read for is still the newest.
func (c *Channel) finishCatchUp(after string, epoch int) {
	c.queue.put(func(ctx context.Context) {
		c.mu.Lock()
		c.caught = c.caught || c.epoch == epoch
		c.mu.Unlock()
		c.saw(ctx, after)
	})
}

// lastSeen is the id of the newest message handled, by this process or by an earlier one.
func (c *Channel) lastSeen(ctx context.Context) (string, error) {
	c.mu.Lock()
	seen := c.seen
	c.mu.Unlock()
	if seen != "" || c.opt.LastSeen == nil {
		return seen, nil
	}
	id, err := c.opt.LastSeen(ctx)
	if err != nil || !isID(id) {
		return "", err
	}
	return id, nil
}

// saw moves the mark on to a message that has been handled. While older ones may still be missing it stays.
func (c *Channel) saw(ctx context.Context, id string) {
	c.mu.Lock()
	if !c.caught || newer(c.seen, id) == c.seen {
		c.mu.Unlock()
		return
	}
	c.seen = id
	c.mu.Unlock()
	if c.opt.SetLastSeen == nil {
		return
	}
	if err := c.opt.SetLastSeen(ctx, id); err != nil {
		c.log.Warn("the newest message handled was not noted; it will be looked at again after a restart", "err", err)
	}
}
