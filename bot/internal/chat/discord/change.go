package discord

import (
	"context"
	"encoding/json"
	"strconv"
	"time"

	"tarebell/bot/internal/chat"
)

// edited hands on a message that its author changed. An update without a time of editing is the platform's own, as of a
// preview; one without text is none that we may read.
func (c *Channel) edited(ctx context.Context, raw json.RawMessage) {
	var e struct {
		At string `json:"edited_timestamp"`
	}
	_ = json.Unmarshal(raw, &e)
	at, none := time.Parse(time.RFC3339, e.At)
	m, err := readMessage(raw)
	if err != nil || none != nil || m.Channel != c.opt.Channel || !c.forUs(m) || !c.done.add(m.ID+"/"+e.At) {
		return
	}
	hear := func(ctx context.Context, who *guildMember) {
		by := member(who, m.Author)
		if !c.mayWrite(by) {
			return
		}
		s := chat.Said{ID: m.ID, At: said(m), By: by, Text: spoken(m, c.place().self), Changed: at.UTC()}
		const turns = 36 * 36 * 36 * 36 * 36 // what has room in a number besides the message's
		c.reply(ctx, c.say(ctx, s), "e"+m.ID+strconv.FormatInt(at.UnixMilli()/100%turns, 36), m.ID)
	}
	if m.Member == nil && len(c.opt.Roles) > 0 {
		c.whenRolesKnown(ctx, m.Author.ID, hear)
		return
	}
	hear(ctx, m.Member)
}

// deleted hands on that a message is gone. The platform does not say who took it away.
func (c *Channel) deleted(ctx context.Context, raw json.RawMessage) {
	var m message
	_ = json.Unmarshal(raw, &m)
	if !isID(m.ID) || m.Channel != c.opt.Channel || !c.done.add(m.ID+"/deleted") {
		return
	}
	c.reply(ctx, c.say(ctx, chat.Said{ID: m.ID, At: said(m), Changed: time.Now().UTC(), Deleted: true}), "d"+m.ID, "")
}
