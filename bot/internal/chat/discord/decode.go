package discord

import (
	"encoding/json"
	"errors"
)

// The types here are what the platform sends, as far as it is used: an odd value elsewhere, or a kind of part that
// nobody has heard of, must not keep the rest from being read. The client library's own types fail as a whole.

type user struct {
	ID     string `json:"id"`
	Name   string `json:"username"`
	Global string `json:"global_name"`
	Bot    bool   `json:"bot"`
}

func (u user) shown() string {
	if u.Global != "" {
		return u.Global
	}
	return u.Name
}

type guildMember struct {
	Nick  string   `json:"nick"`
	Roles []string `json:"roles"`
	User  *user    `json:"user"`
}

type message struct {
	ID        string       `json:"id"`
	Channel   string       `json:"channel_id"`
	Type      int          `json:"type"`
	At        string       `json:"timestamp"`
	Content   *string      `json:"content"`
	Author    *user        `json:"author"`
	Member    *guildMember `json:"member"`
	Mentions  []*user      `json:"mentions"`
	Webhook   string       `json:"webhook_id"`
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
	ID      string          `json:"id"`
	App     string          `json:"application_id"`
	Token   string          `json:"token"`
	Type    int             `json:"type"`
	Guild   string          `json:"guild_id"`
	Channel string          `json:"channel_id"`
	Member  *guildMember    `json:"member"`
	User    *user           `json:"user"`
	Message json.RawMessage `json:"message"` // only whether there is one
	Data    struct {
		Name     string          `json:"name"`
		CustomID string          `json:"custom_id"`
		Options  []*calledOption `json:"options"`
		Resolved struct {
			Users   map[string]*user        `json:"users"`
			Members map[string]*guildMember `json:"members"`
		} `json:"resolved"`
		Components []formPart `json:"components"`
	} `json:"data"`
}

type calledOption struct {
	Name    string `json:"name"`
	Type    int    `json:"type"`
	Value   any    `json:"value"`
	Focused bool   `json:"focused"`
}

// formPart is a part of a form that was sent: a Label with its input, or the input itself.
type formPart struct {
	CustomID  string    `json:"custom_id"`
	Value     *string   `json:"value"`
	Component *formPart `json:"component"`
}

// Kinds of interactions (Discord documentation: interaction object).
const (
	kindCommand = 2
	kindPress   = 3
	kindSuggest = 4
	kindForm    = 5
)

// Kinds of command options that are told apart (Discord documentation: application commands, option types).
const (
	optionUser   = 6
	optionNumber = 10
)

// Kinds of messages that people write (Discord documentation: message types).
const (
	typeDefault = 0
	typeReply   = 19
)
