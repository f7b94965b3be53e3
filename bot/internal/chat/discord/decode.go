package discord

import (
	"encoding/json"
	"errors"

	"github.com/bwmarrin/discordgo"
)

// The types here are what the platform sends, as far as it is used: an odd value elsewhere, or a kind of part that
// nobody has heard of, must not keep the rest from being read. The client library's own types, but for User, fail as a whole.

type guildMember struct {
	Nick  string          `json:"nick"`
	Roles []string        `json:"roles"`
	User  *discordgo.User `json:"user"`
}

type message struct {
	ID        string                `json:"id"`
	Channel   string                `json:"channel_id"`
	Type      discordgo.MessageType `json:"type"`
	At        string                `json:"timestamp"`
	Content   *string               `json:"content"`
	Author    *discordgo.User       `json:"author"`
	Member    *guildMember          `json:"member"`
	Mentions  []*discordgo.User     `json:"mentions"`
	Webhook   string                `json:"webhook_id"`
	Reference *struct {
		ID string `json:"message_id"`
	} `json:"message_reference"`
}

// readMessage reads one message. What cannot be read has at least its id, if that can be.
func readMessage(raw json.RawMessage) (m message, err error) {
	err = json.Unmarshal(raw, &m) // goes on after a value of another type, and leaves that out
	if m.ID == "" || m.Content == nil || err != nil && *m.Content == "" || m.Author == nil || m.Author.ID == "" {
		return message{ID: m.ID}, errors.Join(errors.New("a message without id, author or text"), err)
	}
	return m, nil
}

func (m message) text() string { return *m.Content }

type interaction struct {
	ID      string                    `json:"id"`
	App     string                    `json:"application_id"`
	Token   string                    `json:"token"`
	Type    discordgo.InteractionType `json:"type"`
	Guild   string                    `json:"guild_id"`
	Channel string                    `json:"channel_id"`
	Member  *guildMember              `json:"member"`
	User    *discordgo.User           `json:"user"`
	Message json.RawMessage           `json:"message"` // only whether there is one
	Data    struct {
		Name     string          `json:"name"`
		CustomID string          `json:"custom_id"`
		Options  []*calledOption `json:"options"`
		Resolved struct {
			Users   map[string]*discordgo.User `json:"users"`
			Members map[string]*guildMember    `json:"members"`
		} `json:"resolved"`
		Components []formPart `json:"components"`
	} `json:"data"`
}

type calledOption struct {
	Name    string                                 `json:"name"`
	Type    discordgo.ApplicationCommandOptionType `json:"type"`
	Value   any                                    `json:"value"`
	Focused bool                                   `json:"focused"`
}

// formPart is a part of a form that was sent: a Label with its input, or the input itself.
type formPart struct {
	CustomID  string    `json:"custom_id"`
	Value     *string   `json:"value"`
	Component *formPart `json:"component"`
}
