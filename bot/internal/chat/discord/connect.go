package discord

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// Run implements chat.Channel. It owns the connection: the client library's own reconnecting can repeat a
// refused login for ever and can lock up, so each try is a new session, watched from outside. What a Message
// of Handler.Say asks to be private is posted for all to see: the platform has no such thing there.
func (c *Channel) Run(ctx context.Context, h chat.Handler) error {
	ctx, cancel := context.WithCancel(ctx)
	c.handler = h
	var work sync.WaitGroup
	work.Go(func() { c.work(ctx) })
	defer func() {
		cancel()
		work.Wait()
		c.sends.Wait()
	}()
	gap := backoff{pace: c.opt.Pace}
	for {
		began := time.Now()
		held, err := c.connection(ctx)
		if ctx.Err() != nil {
			return nil
		}
		if c.pointless(err) {
			c.lost(err, 0)
			return err
		}
		wait := max(gap.after(held, time.Since(began)), asked(err))
		c.lost(err, wait)
		if !pause(ctx, wait) {
			return nil
		}
	}
}

// pointless says whether connecting again can't help. A channel that was there before may come back, when
// somebody mends what was changed by mistake; a token that is refused must not be tried again.
func (c *Channel) pointless(err error) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	var r *Refused
	return isFinal(err) || errors.As(err, &r) && r.Status == http.StatusUnauthorized || !c.ever && errors.Is(err, chat.ErrPermanent)
}

// backoff is the gap between connections.
type backoff struct {
	pace Pace
	next time.Duration
}

// after is the gap after a connection that held that long. The platform allows 1000 logins a day and then
// takes the token away, so a link that drops at once must not be tried again and again. One that was good is
// made anew without delay, but not within First of the last login.
func (b *backoff) after(held, sinceTry time.Duration) time.Duration {
	if held >= b.pace.Good {
		b.next = b.pace.First
		return max(b.pace.First-sinceTry, b.pace.First/10)
	}
	d := max(b.next, b.pace.First)
	b.next = min(2*d, b.pace.Most)
	return d
}

// lost notes that the connection is gone, and logs a reason once.
func (c *Channel) lost(err error, wait time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := time.Now()
	text := "the connection ended"
	if err != nil {
		text = err.Error()
	}
	if text != c.health.Err || c.health.Connected {
		c.log.Warn("not connected to Discord", "err", text, "again in", wait)
	}
	if c.health.Connected || c.health.Since.IsZero() {
		c.health.Since = now
	}
	c.health.Connected, c.health.Err, c.health.Next = false, text, now.Add(wait)
}

// connection makes one connection and returns when it has ended, with how long it held.
func (c *Channel) connection(ctx context.Context) (held time.Duration, err error) {
	if err := c.locate(ctx); err != nil {
		return 0, err
	}
	if err := c.allowance(ctx); err != nil {
		return 0, err
	}
	l, err := c.open(ctx)
	if err != nil {
		return 0, err
	}
	defer l.drop()
	start := time.Now()
	c.gained(start)
	up, cancel := context.WithCancel(ctx)
	var settling sync.WaitGroup
	settle := func() { settling.Go(func() { c.settleIn(up) }) }
	defer settling.Wait()
	defer cancel()
	settle()
	err = l.watch(ctx, c.opt.Pace.Silent, settle)
	return time.Since(start), err
}

func (c *Channel) gained(now time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.ever {
		c.health.Reconnects++
	}
	c.ever = true
	c.health.Connected, c.health.Since, c.health.Err, c.health.Next = true, now, "", time.Time{}
	c.log.Info("connected to Discord", "channel", c.opt.Channel, "reconnects", c.health.Reconnects)
}

// locate asks where the channel belongs, which also tells a wrong token or channel before logging in.
func (c *Channel) locate(ctx context.Context) error {
	var ch struct {
		Guild  string `json:"guild_id"`
		Newest string `json:"last_message_id"`
	}
	at := discordgo.EndpointChannel(c.opt.Channel)
	if err := c.rest.do(ctx, call{doing: "looking at the channel", method: http.MethodGet, url: at, bucket: at, into: &ch}); err != nil {
		if c.where.app != "" && code(err) == codeNoAccess {
			return fmt.Errorf("%w: %s", err, InviteLink(c.where.app))
		}
		return err
	}
	if ch.Guild == "" {
		return final{fmt.Errorf("channel %s is not in a server: only a channel of a server can be used, not a direct message", c.opt.Channel)}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.where.guild, c.where.newest = ch.Guild, ch.Newest
	return nil
}

// allowance waits when few logins are left for today.
func (c *Channel) allowance(ctx context.Context) error {
	var gw discordgo.GatewayBotResponse
	at := discordgo.EndpointGatewayBot
	if err := c.rest.do(ctx, call{doing: "asking for logins left", method: http.MethodGet, url: at, bucket: at, into: &gw}); err != nil {
		return err
	}
	if limit := gw.SessionStartLimit; limit.Total > 0 && limit.Remaining < 10 {
		wait := time.Duration(limit.ResetAfter) * time.Millisecond
		return &chat.RetryAfter{After: wait, Err: fmt.Errorf("only %d of %d logins are left for today; waiting until they are renewed", limit.Remaining, limit.Total)}
	}
	return nil
}

// greeted notes who we are, and that from now on something may have been missed, until the next catch-up.
func (c *Channel) greeted(r *discordgo.Ready) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.epoch++
	c.caught = false
	if r.User != nil {
		c.where.self = r.User.ID
	}
	if r.Application != nil && r.Application.ID != "" {
		c.where.app = r.Application.ID
	}
	if c.where.app == "" {
		c.where.app = c.where.self
	}
}

func (c *Channel) place() place {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.where
}
