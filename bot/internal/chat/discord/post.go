package discord

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// sent is what is looked at in the platform's answer to a message.
type sent struct {
	ID     string     `json:"id"`
	Embeds []struct{} `json:"embeds"`
}

// Post implements chat.Channel. It tries once; the error says whether and when to try again. With a
// Message.ID the platform itself sees to it that a second try within some minutes is not a second message.
func (c *Channel) Post(ctx context.Context, m chat.Message) (string, error) {
	if len(m.ID) > maxNonce {
		return "", fmt.Errorf("posting notice %q: %w: its number is longer than %d characters", m.ID, chat.ErrPermanent, maxNonce)
	}
	return c.send(ctx, m, m.ID, "")
}

// send posts m under a nonce, as a reply to a message if that is given.
func (c *Channel) send(ctx context.Context, m chat.Message, nonce, replyTo string) (string, error) {
	m.Private = false // only answers to interactions can be
	l := write(m)
	id, err := c.create(ctx, l, nonce, replyTo)
	if n := code(err); (n == codeNoPermission || n == codeEmptyMessage) && (len(l.files) > 0 || len(*l.Embeds) > 0) {
		c.log.Warn("embeds or files are not permitted in the channel; posting plain text", "err", err)
		return c.create(ctx, bare(m), nonce, replyTo)
	}
	return id, err
}

func (c *Channel) create(ctx context.Context, l letter, nonce, replyTo string) (string, error) {
	if nonce != "" {
		l.Nonce, l.EnforceNonce = nonce, true
	}
	if replyTo != "" {
		l.Reference = &reference{MessageID: replyTo}
	}
	var got sent
	to := discordgo.EndpointChannelMessages(c.opt.Channel)
	err := c.rest.do(ctx, call{doing: "posting to the channel", method: http.MethodPost, url: to, bucket: to, body: l.payload, files: l.files, into: &got})
	if err != nil {
		return "", err
	}
	if len(got.Embeds) == 0 && l.Embeds != nil && len(*l.Embeds) > 0 {
		c.warnOnce()
	}
	return got.ID, nil
}

func (c *Channel) warnOnce() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.warned {
		c.log.Warn("the channel shows no embeds from the bot; give it the permission Embed Links, or the details of notices stay unseen")
	}
	c.warned = true
}

// Edit implements chat.Channel. Files replace those that were there.
func (c *Channel) Edit(ctx context.Context, posted string, m chat.Message) error {
	if !isID(posted) {
		return fmt.Errorf("changing message %q: %w: that is no message id", posted, chat.ErrPermanent)
	}
	l := write(m)
	l.Flags = 0
	to := discordgo.EndpointChannelMessage(c.opt.Channel, posted)
	bucket := discordgo.EndpointChannelMessage(c.opt.Channel, "")
	return c.rest.do(ctx, call{doing: "changing a message", method: http.MethodPatch, url: to, bucket: bucket, body: l.payload, files: l.files})
}

// skew is by how much the platform's clock may be behind ours.
const skew = 2 * time.Minute

// Find implements chat.Channel: it looks through what was posted since then for our message with that number.
func (c *Channel) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	if id == "" {
		return "", false, nil
	}
	for m, err := range c.since(ctx, "looking for a notice in the channel", snowflake(since.Add(-skew))) {
		if err != nil {
			return "", false, err
		}
		if carries(m, id) {
			return m.ID, true, nil
		}
	}
	return "", false, nil
}

// carries says whether m is a message of a bot that shows the notice's number: in an embed's footer, or in
// the last line of a plain one. Members can't make either.
func carries(m *discordgo.Message, id string) bool {
	if m == nil || m.Author == nil || !m.Author.Bot {
		return false
	}
	for _, e := range m.Embeds {
		if e != nil && e.Footer != nil && e.Footer.Text == numbered(id) {
			return true
		}
	}
	return strings.HasSuffix(m.Content, "\n"+escape(numbered(id)))
}
