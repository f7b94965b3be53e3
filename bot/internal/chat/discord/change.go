package discord

import (
	"context"
	"encoding/json"
	"slices"
	"strconv"
	"time"

	"tarebell/bot/internal/chat"
)

// messageEdited hands on a message that its author changed. An update without a time of editing is the platform's own, as of a
// preview; one without text is none that we may read.
func (c *Channel) messageEdited(ctx context.Context, raw json.RawMessage) {
	var e struct {
		At string `json:"edited_timestamp"`
	}
	_ = json.Unmarshal(raw, &e)
	at, none := time.Parse(time.RFC3339, e.At)
	m, err := readMessage(raw)
	if err != nil || none != nil || m.Channel != c.opt.Channel || !c.isForBot(m) || !c.done.add(m.ID+"/"+e.At) {
		return
	}
	hear := func(ctx context.Context, who *guildMember) {
		by := member(who, m.Author)
		if !c.mayWrite(by) {
			return
		}
		s := chat.Said{ID: m.ID, At: timeOf(m), By: by, Text: textOf(m, c.place().self), Changed: at.UTC()}
		const turns = 36 * 36 * 36 * 36 * 36 // what has room in a number besides the message's
		c.reply(ctx, c.callSay(ctx, s), "e"+m.ID+strconv.FormatInt(at.UnixMilli()/100%turns, 36), m.ID)
	}
	if m.Member == nil && len(c.opt.Roles) > 0 {
		c.afterRoles(ctx, m.Author.ID, waiting{do: hear})
		return
	}
	hear(ctx, m.Member)
}

// messagesDeleted hands on that messages are gone, one or several at once. The platform does not say who took them away.
func (c *Channel) messagesDeleted(ctx context.Context, raw json.RawMessage) {
	var e struct {
		ID      string   `json:"id"`
		IDs     []string `json:"ids"`
		Channel string   `json:"channel_id"`
	}
	_ = json.Unmarshal(raw, &e)
	if e.Channel != c.opt.Channel {
		return
	}
	for _, id := range append(e.IDs, e.ID) {
		c.messageDeleted(ctx, id)
	}
}

// messageDeleted hands on that one message is gone.
func (c *Channel) messageDeleted(ctx context.Context, id string) {
	if !isID(id) || !c.done.add(id+"/deleted") {
		return
	}
	c.reply(ctx, c.callSay(ctx, chat.Said{ID: id, At: idTime(id), Changed: time.Now().UTC(), Deleted: true}), "d"+id, "")
}

// reviewHeard looks what became, while nobody listened, of the messages that were heard lately: it notices changes and
// deletions as if they came now.
func (c *Channel) reviewHeard(ctx context.Context) error {
	c.mu.Lock()
	heard := slices.Clone(c.heard)
	c.mu.Unlock()
	if len(heard) == 0 {
		return nil
	}
	page, full, err := c.page(ctx, troubleHistory, "")
	if err != nil || len(page) == 0 { // nothing, or the history may not be read
		return err
	}
	there := map[string]json.RawMessage{}
	for _, m := range page {
		there[m.id] = m.raw
	}
	for _, id := range heard {
		if raw, ok := there[id]; ok {
			c.queue.put(func(ctx context.Context) { c.messageEdited(ctx, raw) })
		} else if !full || compare(id, page[0].id) > 0 { // else it is too old to be on the page
			c.queue.put(func(ctx context.Context) { c.messageDeleted(ctx, id) })
		}
	}
	return nil
}
