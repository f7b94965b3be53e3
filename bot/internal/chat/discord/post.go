package discord

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// sent is what is looked at in the platform's answer to a message.
type sent struct {
	ID     string            `json:"id"`
	Embeds []json.RawMessage `json:"embeds"`
}

// Post implements chat.Channel. It tries once; the error says whether and when to try again. With a
// Message.ID the platform itself sees to it that a second try within some minutes is not a second message.
func (c *Channel) Post(ctx context.Context, m chat.Message) (string, error) {
	if len(m.ID) > maxNonce {
		return "", fmt.Errorf("posting notice %q: %w: its number is longer than %d characters", m.ID, chat.ErrPermanent, maxNonce)
	}
	m.Private = false // only answers to interactions can be
	id, err := c.send(ctx, m)
	if code(err) == discordgo.ErrCodeCannotReplyWithoutPermissionToReadMessageHistory {
		m.ReplyTo = ""
		id, err = c.send(ctx, m)
	}
	if err == nil {
		c.endSearch(m.ID)
	}
	return id, err
}

// send posts m, as plain text where more is not permitted.
func (c *Channel) send(ctx context.Context, m chat.Message) (string, error) {
	l := render(m)
	id, err := c.create(ctx, m, l)
	if n := code(err); (n == discordgo.ErrCodeMissingPermissions || n == discordgo.ErrCodeCannotSendEmptyMessage) && (len(l.files) > 0 || len(*l.Embeds) > 0) {
		id, err = c.create(ctx, m, plainText(m))
		if err == nil && n == discordgo.ErrCodeMissingPermissions && len(l.files) > 0 {
			c.noteTrouble(troubleFiles, errors.New(troubleFiles))
		}
		return id, err
	}
	if err == nil && len(l.files) > 0 {
		c.noteTrouble(troubleFiles, nil)
	}
	return id, err
}

func (c *Channel) create(ctx context.Context, m chat.Message, l wire) (string, error) {
	if m.ID != "" {
		l.Nonce, l.EnforceNonce = m.ID, true
	}
	if m.ReplyTo != "" {
		l.Reference = &discordgo.MessageReference{MessageID: m.ReplyTo, FailIfNotExists: new(bool)}
	}
	var got sent
	err := c.rest.do(ctx, call{doing: "posting to the channel", method: http.MethodPost, url: discordgo.EndpointChannelMessages(c.opt.Channel),
		body: l.payload, files: l.files, into: &got, urgent: m.Severity == chat.Danger})
	if err != nil {
		return "", err
	}
	if l.Embeds != nil && len(*l.Embeds) > 0 {
		c.checkEmbed(ctx, m, got)
	}
	return got.ID, nil
}

// checkEmbed looks whether an embed that was sent is there. If not, what it says is put into the text.
func (c *Channel) checkEmbed(ctx context.Context, m chat.Message, got sent) {
	if len(got.Embeds) > 0 {
		c.noteTrouble(troubleEmbeds, nil)
		return
	}
	c.noteTrouble(troubleEmbeds, errors.New(troubleEmbeds))
	if err := c.change(ctx, got.ID, plainText(m)); err != nil {
		c.log.Warn("the details of a notice stay unseen", "err", err)
	}
}

// Edit implements chat.Channel. Files replace those that were there.
func (c *Channel) Edit(ctx context.Context, posted string, m chat.Message) error {
	if !isID(posted) {
		return fmt.Errorf("changing message %q: %w: that is no message id", posted, chat.ErrPermanent)
	}
	return c.change(ctx, posted, render(m))
}

func (c *Channel) change(ctx context.Context, posted string, l wire) error {
	l.Flags = 0
	to := discordgo.EndpointChannelMessage(c.opt.Channel, posted)
	bucket := discordgo.EndpointChannelMessage(c.opt.Channel, "")
	return c.rest.do(ctx, call{doing: "changing a message", method: http.MethodPatch, url: to, bucket: bucket, body: l.payload, files: l.files})
}

// skew is by how much the platform's clock may be behind ours.
const skew = 2 * time.Minute

// Find implements chat.Channel: it looks through what was posted since then for our message with that number. A search
// that ends early goes on where it ended the next time: what is posted later comes later in the channel.
func (c *Channel) Find(ctx context.Context, id string, since time.Time) (string, bool, error) {
	if id == "" {
		return "", false, nil
	}
	after := snowflake(since.Add(-skew))
	c.mu.Lock()
	if at := c.searched[id]; compare(at, after) > 0 {
		after = at
	}
	c.mu.Unlock()
	for m, err := range c.since(ctx, "looking for a notice in the channel", after) {
		if err != nil {
			return "", false, err
		}
		if hasNumber(m.raw, id) {
			c.endSearch(id)
			return m.id, true, nil
		}
		c.mu.Lock()
		c.searched[id] = m.id
		c.mu.Unlock()
	}
	return "", false, nil
}

// endSearch drops how far a notice was looked for.
func (c *Channel) endSearch(id string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	delete(c.searched, id)
}

// hasNumber says whether a message is one of a bot that shows the notice's number in its last line, or is the reply of that
// number. Members can't make either.
func hasNumber(raw json.RawMessage, id string) bool {
	m, err := readMessage(raw)
	if err != nil || !m.Author.Bot || m.Webhook != "" {
		return false
	}
	if m.Reference != nil && m.Type == discordgo.MessageTypeReply && replyID(m.Reference.ID) == id {
		return true
	}
	return strings.HasSuffix(m.text(), "\n"+small+escape(numbered(id)))
}
