package discord

import (
	"cmp"
	"context"
	"iter"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"
)

// settleIn does what a new connection needs: the commands, once, and what was typed while nobody listened.
func (c *Channel) settleIn(ctx context.Context) {
	c.guarded(func() {
		c.insist(ctx, "catching up with the channel", c.catchUp)
		if !c.Health().Registered {
			c.insist(ctx, "registering the commands", func(ctx context.Context) error {
				return c.registered(c.register(ctx, c.place()))
			})
		}
	})
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
func (c *Channel) catchUp(ctx context.Context) error {
	c.mu.Lock()
	epoch := c.epoch
	c.mu.Unlock()
	after, err := c.lastSeen(ctx)
	if err != nil {
		return err
	}
	if after == "" {
		after = cmp.Or(c.place().newest, snowflake(time.Now()))
		c.finishCatchUp(after, epoch)
		return nil
	}
	for m, err := range c.since(ctx, "reading what was typed meanwhile", after) {
		if err != nil {
			return err
		}
		after = m.ID
		c.queue.put(func(ctx context.Context) { c.hear(ctx, m) })
	}
	c.finishCatchUp(after, epoch)
	return nil
}

// finishCatchUp lets the mark move on once all that was put into the queue has been handled, if nothing may have
// been missed since the catch-up began.
func (c *Channel) finishCatchUp(after string, epoch int) {
	c.queue.put(func(ctx context.Context) {
		c.mu.Lock()
		c.caught = c.caught || c.epoch == epoch
		c.mu.Unlock()
		c.saw(ctx, after)
	})
}

// since goes through the messages of the channel after an id, oldest first.
func (c *Channel) since(ctx context.Context, doing, after string) iter.Seq2[*discordgo.Message, error] {
	base := discordgo.EndpointChannelMessages(c.opt.Channel)
	return func(yield func(*discordgo.Message, error) bool) {
		for {
			q := url.Values{"limit": {strconv.Itoa(pageSize)}, "after": {after}}
			var page []*discordgo.Message
			if err := c.rest.do(ctx, call{doing: doing, method: http.MethodGet, url: base + "?" + q.Encode(), bucket: base + "#read", into: &page}); err != nil {
				yield(nil, err)
				return
			}
			fresh := slices.DeleteFunc(slices.Clone(page), func(m *discordgo.Message) bool { return m == nil || compare(m.ID, after) <= 0 })
			slices.SortFunc(fresh, func(a, b *discordgo.Message) int { return compare(a.ID, b.ID) })
			for _, m := range fresh {
				if !yield(m, nil) {
					return
				}
				after = m.ID
			}
			if len(page) < pageSize || len(fresh) == 0 {
				return
			}
		}
	}
}

// pageSize is the most that the platform gives at once.
const pageSize = 100

// snowflake is the smallest id that the platform gives at time t: milliseconds since 2015 in the upper bits
// (Discord documentation: reference, snowflakes).
func snowflake(t time.Time) string {
	const epoch = 1420070400000
	return strconv.FormatInt(max(t.UnixMilli()-epoch, 0)<<22, 10)
}

// compare orders ids by age. They are numbers without leading zeros.
func compare(a, b string) int {
	return cmp.Or(cmp.Compare(len(a), len(b)), strings.Compare(a, b))
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
	if !c.caught || compare(id, c.seen) <= 0 {
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
