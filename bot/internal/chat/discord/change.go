package discord

import (
	"context"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// hearChanges hands on what members make of their messages later.
func (c *Channel) hearChanges(l *line) {
	l.session.AddHandler(func(_ *discordgo.Session, m *discordgo.MessageUpdate) {
		if !l.dropped.Load() {
			c.queue.put(func(ctx context.Context) { c.edited(ctx, m.Message) })
		}
	})
	l.session.AddHandler(func(_ *discordgo.Session, m *discordgo.MessageDelete) {
		if !l.dropped.Load() {
			c.queue.put(func(ctx context.Context) { c.deleted(ctx, m.Message) })
		}
	})
}

// edited hands on a message that its author changed. An update without a time of editing is the platform's own, as of a preview; one
// without text is none that we may read.
func (c *Channel) edited(ctx context.Context, m *discordgo.Message) {
	if m == nil || m.EditedTimestamp == nil || m.ID == "" || m.ChannelID != c.opt.Channel {
		return
	}
	where := c.place()
	if m.Author == nil || m.Author.Bot || m.WebhookID != "" || m.Author.ID == where.self {
		return
	}
	text := spoken(m, where.self)
	if text == "" || !c.done.add(m.ID+"/"+m.EditedTimestamp.Format(time.RFC3339Nano)) {
		return
	}
	if m.Member == nil && len(c.opt.Roles) > 0 {
		m.Member = c.lookUp(ctx, where.guild, m.Author.ID)
	}
	by := member(m.Member, m.Author)
	if !c.mayWrite(by) {
		return
	}
	a := c.say(ctx, chat.Said{ID: m.ID, At: said(m), By: by, Text: text, Changed: m.EditedTimestamp.UTC()})
	if a.Message != nil {
		c.sends.Go(func() { c.guarded(func() { c.reply(ctx, m.ID, "e"+m.ID, *a.Message) }) })
	}
}

// deleted hands on that a message is gone. The platform does not say who took it away.
func (c *Channel) deleted(ctx context.Context, m *discordgo.Message) {
	if m == nil || m.ID == "" || m.ChannelID != c.opt.Channel || !c.done.add(m.ID+"/deleted") {
		return
	}
	at := said(m)
	a := c.say(ctx, chat.Said{ID: m.ID, At: at, Changed: time.Now().UTC(), Deleted: true})
	if a.Message != nil {
		c.sends.Go(func() { c.guarded(func() { c.reply(ctx, "", "d"+m.ID, *a.Message) }) })
	}
}
