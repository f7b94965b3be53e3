package discord

import (
	"context"
	"encoding/json"
	"fmt"
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
		c.recovering(func() { job(ctx) })
	}
}

// background does what the queue does not wait for; the program does, before it ends.
func (c *Channel) background(do func()) {
	c.sends.Go(func() { c.recovering(do) })
}

// recovering keeps a panic from ending the program: the client library recovers from none.
func (c *Channel) recovering(do func()) {
	defer func() {
		if p := recover(); p != nil {
			c.log.Error("a fault while handling what happened in the channel", "fault", fmt.Sprint(p), "stack", string(debug.Stack()))
		}
	}()
	do()
}

// receive takes a message as the platform sent it; past: it was read from the history.
func (c *Channel) receive(ctx context.Context, raw json.RawMessage, past bool) {
	m, err := readMessage(raw)
	switch {
	case err != nil:
		c.unread(m.ID, err)
		c.markHandled(ctx, m.ID, past)
	case m.Channel == c.opt.Channel:
		c.checkAuthor(ctx, m, past)
	}
}

// checkAuthor hands a message of the channel to the handler, once it is known whether its author may write.
func (c *Channel) checkAuthor(ctx context.Context, m message, past bool) {
	switch {
	case !c.isForBot(m) || c.done.has(m.ID):
		c.markHandled(ctx, m.ID, past)
	case m.Member == nil && len(c.opt.Roles) > 0:
		c.afterRoles(ctx, m.Author.ID, waiting{m.ID, func(ctx context.Context, who *guildMember) {
			m.Member = who
			c.handleMessage(ctx, m, past)
		}})
	default:
		c.handleMessage(ctx, m, past)
	}
}

// isForBot says whether a message is one that somebody typed.
func (c *Channel) isForBot(m message) bool {
	return !m.Author.Bot && m.Webhook == "" && m.Author.ID != c.place().self &&
		(m.Type == discordgo.MessageTypeDefault || m.Type == discordgo.MessageTypeReply) && textOf(m, c.place().self) != ""
}

// handleMessage hands a message to the handler and sees to the answer.
func (c *Channel) handleMessage(ctx context.Context, m message, past bool) {
	defer c.markHandled(ctx, m.ID, past)
	by := member(m.Member, m.Author)
	if !c.mayWrite(by) || !c.done.add(m.ID) {
		return
	}
	c.mu.Lock()
	c.heard = append(c.heard, m.ID)
	c.heard = c.heard[max(0, len(c.heard)-pageSize):]
	c.mu.Unlock()
	c.reply(ctx, c.callSay(ctx, chat.Said{ID: m.ID, At: timeOf(m), By: by, Text: textOf(m, c.place().self)}), replyID(m.ID), m.ID)
}

// reply sees to an answer, if there is one, under a number of its own, to a message if that is given.
func (c *Channel) reply(ctx context.Context, a chat.Answer, number, to string) {
	if a.Message == nil {
		return
	}
	m := *a.Message
	m.ID, m.ReplyTo, m.Private = number, to, false
	c.deliver(ctx, m)
}

// replyID is the number of a reply, under which it is posted once.
func replyID(to string) string { return "s" + to }

// answering calls the handler; whatever goes wrong in it, the member is told something.
func (c *Channel) answering(handle func() chat.Answer) (a chat.Answer) {
	a = privately("Something went wrong here. Please check with /entries what was stored.")
	c.recovering(func() { a = handle() })
	return a
}

// callSay hands what was typed to the handler.
func (c *Channel) callSay(ctx context.Context, s chat.Said) chat.Answer {
	return c.answering(func() chat.Answer { return c.handler.Say(ctx, s) })
}

// textOf is what was typed, without the mentions: of the bot, which some need for being heard, and of other members, whose names may
// look like anything.
func textOf(m message, self string) string {
	text := m.text()
	for _, u := range append([]*discordgo.User{{ID: self}}, m.Mentions...) {
		if u != nil {
			text = strings.NewReplacer("<@"+u.ID+">", " ", "<@!"+u.ID+">", " ").Replace(text)
		}
	}
	return strings.TrimSpace(text)
}

// timeOf is when a message was typed, by the platform's clock.
func timeOf(m message) time.Time {
	if t, err := time.Parse(time.RFC3339, m.At); err == nil {
		return t.UTC()
	}
	return idTime(m.ID)
}

// idTime is when the platform made an id.
func idTime(id string) time.Time {
	t, err := discordgo.SnowflakeTimestamp(id)
	if err != nil {
		return time.Now().UTC()
	}
	return t.UTC()
}

// member brings what the platform says of somebody into our form. Either may be missing.
func member(m *guildMember, u *discordgo.User) chat.Member {
	var out chat.Member
	if m != nil {
		if u == nil {
			u = m.User
		}
		out.Roles = slices.Clone(m.Roles)
		out.Name = plainName(m.Nick)
	}
	if u != nil {
		out.ID = u.ID
		if out.Name == "" {
			out.Name = plainName(u.DisplayName())
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

// waiting is what happens when the roles of an author are known.
type waiting struct {
	id string // of the message that is held for it; "": none is
	do func(context.Context, *guildMember)
}

// undecided is the ids of the messages that are held until the roles of their authors are known; with mu held.
func (c *Channel) undecided() (ids []string) {
	for _, list := range c.waiting {
		for _, w := range list {
			if w.id != "" {
				ids = append(ids, w.id)
			}
		}
	}
	return ids
}

// afterRoles lets something happen when the roles of an author are known whose message came without them; nobody else waits
// for that. The mark does not pass a message that is held for it.
func (c *Channel) afterRoles(ctx context.Context, author string, w waiting) {
	c.mu.Lock()
	defer c.mu.Unlock()
	list, asked := c.waiting[author]
	if w.id == "" || !slices.Contains(c.undecided(), w.id) {
		c.waiting[author] = append(list, w)
	}
	if asked {
		return
	}
	c.background(func() {
		if who := c.askMember(ctx, author); who != nil {
			c.queue.put(func(ctx context.Context) { c.hearWaiting(ctx, author, who) })
		}
	})
}

// hearWaiting hears all that waited for the roles of an author, one after the other.
func (c *Channel) hearWaiting(ctx context.Context, author string, who *guildMember) {
	for {
		c.mu.Lock()
		list := c.waiting[author]
		if len(list) == 0 {
			delete(c.waiting, author)
			c.mu.Unlock()
			return
		}
		c.waiting[author] = list[1:]
		c.mu.Unlock()
		c.recovering(func() { list[0].do(ctx, who) })
	}
}

// askMember asks for the roles of a member until it is told; nil when ctx ends before. Who is no longer there has none.
func (c *Channel) askMember(ctx context.Context, author string) (who *guildMember) {
	guild := c.place().guild
	at := discordgo.EndpointGuildMember(guild, author)
	c.untilDone(ctx, troubleRoles, time.Minute, func(ctx context.Context) error {
		var m guildMember
		err := c.rest.do(ctx, call{doing: "asking for a member's roles", url: at, bucket: discordgo.EndpointGuildMembers(guild), into: &m})
		if n := code(err); n == discordgo.ErrCodeUnknownMember || n == discordgo.ErrCodeUnknownUser {
			err = nil
		}
		if err == nil {
			who = &m
		}
		return err
	})
	return who
}
