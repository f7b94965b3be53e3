package discord

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/backoff"
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
		c.saveLiveMark(context.WithoutCancel(ctx))
		c.sends.Wait()
	}()
	var pauses gap
	for {
		t, err := c.connection(ctx)
		if ctx.Err() != nil {
			return nil
		}
		if c.isFinal(ctx, err) {
			c.noteLost(err, 0)
			return err
		}
		pause, _ := chat.Pause(err)
		wait := max(pauses.after(t, time.Now()), pause)
		c.noteLost(err, wait)
		if !backoff.Pause(ctx, wait) {
			return nil
		}
	}
}

// isFinal says whether connecting again can't help. A channel that was there before, for this process or an earlier one,
// may come back, when somebody mends what was changed by mistake; a token that is refused must not be tried again.
func (c *Channel) isFinal(ctx context.Context, err error) bool {
	var r *chat.Refusal
	if errors.As(err, &r) && r.Final {
		return true
	}
	if !errors.Is(err, chat.ErrPermanent) {
		return false
	}
	seen, unknown := c.lastSeen(ctx)
	c.mu.Lock()
	defer c.mu.Unlock()
	return !c.ever && seen == "" && unknown == nil
}

// try is what became of an attempt to connect.
type try struct {
	login time.Time     // when it logged in, zero if it did not come so far
	held  time.Duration // how long the connection held
	quota quota
}

// quota is how many logins the platform still grants.
type quota struct {
	left  int
	reset time.Duration // until they are renewed; 0: not known
}

// gap is the one between attempts to connect.
type gap struct{ fails int }

// after is the gap after an attempt that has ended now. The platform allows one login in some seconds and 1000 a day, and
// then takes the token away; an attempt that did not come to a login costs nothing. So gaps are short, and only when
// logins get few, because a link breaks again and again, what is left of them is spread over the time until they are
// renewed.
func (g *gap) after(t try, now time.Time) time.Duration {
	if t.held >= heldWell {
		g.fails = 0
	}
	g.fails++
	wait := connectGaps.After(g.fails)
	if t.login.IsZero() {
		return wait
	}
	wait = max(wait, loginGap-now.Sub(t.login))
	if q := t.quota; q.reset > 0 && q.left < plenty {
		wait = max(wait, q.reset/time.Duration(max(q.left-reserve, 1))-now.Sub(t.login))
	}
	return wait
}

// plenty is how many logins are enough for the shortest gaps: half of a day's 1000. The last few, reserve, are not used:
// the client library may log in by itself when a session is declared invalid.
const (
	plenty  = 500
	reserve = 10
)

// noteLost notes that the connection is gone, and logs a reason once.
func (c *Channel) noteLost(err error, wait time.Duration) {
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

// connection makes one connection and returns when it has ended.
func (c *Channel) connection(ctx context.Context) (t try, err error) {
	if err := c.findChannel(ctx); err != nil {
		return t, err
	}
	if t.quota, err = c.loginQuota(ctx); err != nil {
		return t, err
	}
	l, err := c.open(ctx)
	if l.loggedIn() {
		t.login = time.Now()
	}
	if err != nil {
		return t, err
	}
	defer l.drop()
	start := time.Now()
	c.noteConnected(start)
	up, cancel := context.WithCancel(ctx)
	var settling sync.WaitGroup
	defer settling.Wait()
	defer cancel()
	settling.Go(func() {
		c.catchUpAfterLogin(up)
		c.rereadHistory(up)
	})
	err = l.watch(ctx, silence)
	t.held = time.Since(start)
	return t, err
}

// rereadHistory reads the history again now and then: what was not heard although there is a connection, because the channel was
// hidden for a while or its history closed, is heard then.
func (c *Channel) rereadHistory(ctx context.Context) {
	for backoff.Pause(ctx, readAgain) {
		c.recovering(func() { c.untilDone(ctx, troubleHistory, time.Minute, c.catchUp) })
	}
}

func (c *Channel) noteConnected(now time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.ever {
		c.health.Reconnects++
	}
	c.ever = true
	c.health.Connected, c.health.Since, c.health.Err, c.health.Next = true, now, "", time.Time{}
	c.log.Info("connected to Discord", "channel", c.opt.Channel, "reconnects", c.health.Reconnects)
}

// kindsThatWork says which channels can be used, of the kinds that there are (Discord documentation: channel types).
const kindsThatWork = "text channels, announcement channels and threads in them work"

var kindNames = map[int]string{1: "a direct message", 2: "a voice channel", 3: "a group of direct messages", 4: "a category", 13: "a stage", 14: "a directory",
	15: "a forum, in which only its threads take messages", 16: "a media channel, in which only its threads take messages"}

// findChannel asks where the channel belongs, which also tells a wrong token or channel before logging in.
func (c *Channel) findChannel(ctx context.Context) error {
	var ch struct {
		Type   int    `json:"type"`
		Guild  string `json:"guild_id"`
		Newest string `json:"last_message_id"`
	}
	if err := c.rest.do(ctx, call{doing: "looking at the channel", url: discordgo.EndpointChannel(c.opt.Channel), into: &ch}); err != nil {
		if c.place().app != "" && code(err) == discordgo.ErrCodeMissingAccess {
			return fmt.Errorf("%w: %s", err, InviteLink(c.place().app))
		}
		return err
	}
	if name, odd := kindNames[ch.Type]; odd || ch.Guild == "" {
		return &chat.Refusal{Final: true, Message: fmt.Sprintf("channel %s is %s: %s; check chat.discord.channel", c.opt.Channel, cmp.Or(name, "not in a server"), kindsThatWork)}
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.where.guild, c.where.newest = ch.Guild, ch.Newest
	c.begin = cmp.Or(c.begin, ch.Newest, "0")
	return nil
}

// loginQuota asks how many logins are left for today, and waits when they are few.
func (c *Channel) loginQuota(ctx context.Context) (quota, error) {
	var gw discordgo.GatewayBotResponse
	if err := c.rest.do(ctx, call{doing: "asking for logins left", url: discordgo.EndpointGatewayBot, into: &gw}); err != nil {
		return quota{}, err
	}
	limit := gw.SessionStartLimit
	if limit.Total == 0 {
		return quota{}, nil
	}
	q := quota{limit.Remaining, time.Duration(limit.ResetAfter) * time.Millisecond}
	if q.left < reserve {
		return q, &chat.Refusal{After: q.reset, Message: fmt.Sprintf("only %d of %d logins are left for today; waiting until they are renewed", q.left, limit.Total)}
	}
	return q, nil
}

// noteReady notes who we are, and that from now on something may have been missed, until the next catch-up.
func (c *Channel) noteReady(r *discordgo.Ready) {
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
