package discord

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// catchUpAfterLogin does what a new connection needs: the commands, once, and what was typed while nobody listened. Neither
// waits for the other.
func (c *Channel) catchUpAfterLogin(ctx context.Context) {
	var both sync.WaitGroup
	defer both.Wait()
	if !c.Health().Registered {
		both.Go(func() {
			c.recovering(func() {
				c.untilDone(ctx, troubleCommands, 10*time.Minute, func(ctx context.Context) error { return c.register(ctx, c.place()) })
				c.mu.Lock()
				defer c.mu.Unlock()
				c.health.Registered = ctx.Err() == nil
			})
		})
	}
	c.recovering(func() { c.untilDone(ctx, troubleHistory, time.Minute, c.catchUp) })
}

// catchUp puts into the queue what was typed after the last message that was handled, and what became of those before it. What is older than the bot is not
// for it.
func (c *Channel) catchUp(ctx context.Context) error {
	c.mu.Lock()
	epoch, begin := c.epoch, c.begin
	c.mu.Unlock()
	after, err := c.lastSeen(ctx)
	if err != nil {
		return err
	}
	if after == "" {
		after = begin
		c.markHandled(ctx, begin, true) // what is typed from here on is for the bot, even if this process ends before it has read it
		if err := c.mayReadHistory(ctx, ""); err != nil {
			return err
		}
	}
	if err := c.reviewHeard(ctx); err != nil {
		return err
	}
	for m, err := range c.since(ctx, troubleHistory, after) {
		if err != nil {
			return err
		}
		after = m.id
		c.queue.put(func(ctx context.Context) { c.receive(ctx, m.raw, true) })
	}
	c.finishCatchUp(after, epoch)
	return nil
}

// finishCatchUp notes that all is read, once what was put into the queue has been handled, if nothing may have been missed
// since the catch-up began.
func (c *Channel) finishCatchUp(after string, epoch int) {
	c.queue.put(func(ctx context.Context) {
		c.mu.Lock()
		c.caught = c.caught || c.epoch == epoch
		c.mu.Unlock()
		c.markHandled(ctx, after, true)
	})
}

// listed is a message of the history, of which only the id has been read.
type listed struct {
	id  string
	raw json.RawMessage
}

// since goes through the messages of the channel after an id, oldest first. It waits out the platform's limits, as far as
// ctx has time for that. That there is nothing is believed only if the history may be read.
func (c *Channel) since(ctx context.Context, doing, after string) iter.Seq2[listed, error] {
	return func(yield func(listed, error) bool) {
		for any := false; ; any = true {
			page, full, err := c.page(ctx, doing, after)
			if err == nil && len(page) == 0 && !any {
				err = c.mayReadHistory(ctx, after)
			}
			if err != nil {
				yield(listed{}, err)
				return
			}
			for _, m := range page {
				if !yield(m, nil) {
					return
				}
				after = m.id
			}
			if !full || len(page) == 0 {
				return
			}
		}
	}
}

// page is the messages right after an id, or the newest if that is empty, oldest first; full: there may be more.
func (c *Channel) page(ctx context.Context, doing, after string) (page []listed, full bool, err error) {
	base := discordgo.EndpointChannelMessages(c.opt.Channel)
	q := url.Values{"limit": {strconv.Itoa(pageSize)}}
	if after != "" {
		q.Set("after", after)
	}
	var raw []json.RawMessage
	patient := retry{tries: 1, worth: asksForPause}
	err = patient.do(ctx, func() error {
		return c.rest.do(ctx, call{doing: doing, url: base + "?" + q.Encode(), bucket: base + "#read", into: &raw})
	})
	if err != nil {
		return nil, false, err
	}
	for _, r := range raw {
		var m struct {
			ID string `json:"id"`
		}
		if _ = json.Unmarshal(r, &m); !isID(m.ID) {
			c.unread("", errors.New("a message without an id"))
		} else if compare(m.ID, after) > 0 {
			page = append(page, listed{m.ID, r})
		}
	}
	slices.SortFunc(page, func(a, b listed) int { return compare(a.id, b.id) })
	return page, len(raw) == pageSize, nil
}

// mayReadHistory tells an empty history from one that may not be read: the platform shows none then, and says so only
// when it is asked for a single message (Discord documentation: get channel messages, get channel message).
func (c *Channel) mayReadHistory(ctx context.Context, after string) error {
	if err := c.findChannel(ctx); err != nil {
		return err
	}
	newest := c.place().newest
	if newest == "" || after != "" && compare(newest, after) <= 0 {
		return nil
	}
	at := discordgo.EndpointChannelMessage(c.opt.Channel, newest)
	bucket := discordgo.EndpointChannelMessage(c.opt.Channel, "") + "#read"
	err := c.rest.do(ctx, call{doing: "looking at the newest message", url: at, bucket: bucket})
	var e *chat.Refusal
	switch {
	case code(err) == discordgo.ErrCodeUnknownMessage: // deleted
		return nil
	case errors.As(err, &e) && e.Status == http.StatusForbidden && e.Code != 0:
		return fmt.Errorf("reading the channel's history: %w (%w): give the bot the permission Read Message History", chat.ErrUnseen, e)
	}
	return err
}

// pageSize is the most that the platform gives at once.
const pageSize = 100
