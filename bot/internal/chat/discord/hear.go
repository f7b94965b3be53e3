package discord

import (
	"context"
	"fmt"
	"net/http"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// work calls the handler for one thing after the other until ctx ends. A fault while one is handled is logged
// and costs only that one.
func (c *Channel) work(ctx context.Context) {
	for {
		job, ok := c.queue.take(ctx)
		if !ok {
			return
		}
		c.guarded(func() { job(ctx) })
	}
}

// guarded keeps a panic from ending the program: the client library recovers from none.
func (c *Channel) guarded(do func()) {
	defer func() {
		if p := recover(); p != nil {
			c.fault(p)
		}
	}()
	do()
}

func (c *Channel) fault(p any) {
	c.log.Error("a fault while handling what happened in the channel", "fault", fmt.Sprint(p), "stack", string(debug.Stack()))
}

// hear hands a message of the channel to the handler and sends its answer.
func (c *Channel) hear(ctx context.Context, m *discordgo.Message) {
	if m == nil || m.ID == "" || m.ChannelID != c.opt.Channel {
		return
	}
	defer c.saw(ctx, m.ID)
	where := c.place()
	if m.Author == nil || m.Author.Bot || m.WebhookID != "" || m.Author.ID == where.self {
		return
	}
	if m.Type != discordgo.MessageTypeDefault && m.Type != discordgo.MessageTypeReply {
		return
	}
	text := spoken(m, where.self)
	if text == "" || !c.done.add(m.ID) {
		return
	}
	if m.Member == nil && len(c.opt.Roles) > 0 {
		m.Member = c.lookUp(ctx, where.guild, m.Author.ID)
	}
	by := member(m.Member, m.Author)
	if !c.mayWrite(by) {
		return
	}
	a := c.say(ctx, chat.Said{ID: m.ID, At: said(m), By: by, Text: text})
	if a.Message == nil {
		return
	}
	c.sends.Go(func() {
		c.guarded(func() { c.reply(ctx, m.ID, "s"+m.ID, *a.Message) })
	})
}

// say calls the handler; whatever goes wrong in it, the member is told something.
func (c *Channel) say(ctx context.Context, s chat.Said) (a chat.Answer) {
	defer func() {
		if p := recover(); p != nil {
			c.fault(p)
			a = tell("Something went wrong with that message. Please check with /entries what was stored.")
		}
	}()
	return c.handler.Say(ctx, s)
}

// reply answers a message of the channel. The nonce keeps a second try from being a second answer.
func (c *Channel) reply(ctx context.Context, to, nonce string, m chat.Message) {
	nonce = cut(nonce, maxNonce)
	err := c.persist(ctx, "reply", func(ctx context.Context) error {
		_, err := c.send(ctx, m, nonce, to)
		if code(err) == codeNoReplies {
			_, err = c.send(ctx, m, nonce, "")
		}
		return err
	})
	if err != nil {
		c.log.Error("an answer in the channel was not delivered", "to", to, "err", err)
	}
}

// spoken is what was typed, without the mentions: of the bot, which some need for being heard, and of other members, whose names may
// look like anything.
func spoken(m *discordgo.Message, self string) string {
	text := m.Content
	for _, form := range []string{"<@" + self + ">", "<@!" + self + ">"} {
		text = strings.ReplaceAll(text, form, " ")
	}
	for _, u := range m.Mentions {
		if u != nil {
			text = strings.NewReplacer("<@"+u.ID+">", " ", "<@!"+u.ID+">", " ").Replace(text)
		}
	}
	return strings.TrimSpace(text)
}

// said is when a message was typed, by the platform's clock.
func said(m *discordgo.Message) time.Time {
	if !m.Timestamp.IsZero() {
		return m.Timestamp.UTC()
	}
	t, err := discordgo.SnowflakeTimestamp(m.ID)
	if err != nil {
		return time.Now().UTC()
	}
	return t.UTC()
}

// member brings what the platform says of somebody into our form. Either may be missing.
func member(m *discordgo.Member, u *discordgo.User) chat.Member {
	var out chat.Member
	if m != nil {
		if u == nil {
			u = m.User
		}
		out.Roles = slices.Clone(m.Roles)
		out.Name = m.Nick
	}
	if u != nil {
		out.ID = u.ID
		if out.Name == "" {
			out.Name = u.DisplayName()
		}
	}
	if out.Name == "" {
		out.Name = out.ID
	}
	return out
}

func (c *Channel) mayWrite(m chat.Member) bool {
	if len(c.opt.Roles) == 0 {
		return true
	}
	return slices.ContainsFunc(m.Roles, func(r string) bool { return slices.Contains(c.opt.Roles, r) })
}

// lookUp asks for the roles of somebody whose message came without them; nil when they can't be had.
func (c *Channel) lookUp(ctx context.Context, guild, user string) *discordgo.Member {
	var m discordgo.Member
	at := discordgo.EndpointGuildMember(guild, user)
	err := c.persist(ctx, "member", func(ctx context.Context) error {
		return c.rest.do(ctx, call{doing: "asking for a member's roles", method: http.MethodGet, url: at, bucket: discordgo.EndpointGuildMembers(guild), into: &m})
	})
	if err != nil {
		c.log.Warn("a message was not heard: its author's roles can't be had", "err", err)
		return nil
	}
	return &m
}
