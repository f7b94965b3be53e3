package discordtest

import (
	"context"
	"slices"
	"strings"
	"time"
)

// Message is a message of the channel, or one that only one member sees.
type Message struct {
	ID         string
	At         time.Time
	By         Member // the bot has the platform's App as ID
	Bot        bool
	Content    string
	Embeds     []Embed
	Components []Component
	Files      []File
	Nonce      string
	ReplyTo    string
	Private    bool // ephemeral
	Pinged     []string
	Everyone   bool // @everyone or @here was pinged
	Edits      int
	EditedAt   time.Time // the last time
	Deleted    bool
	fileIDs    []string // of Files, in the same order
	extra      object   // fields in place of the usual ones
}

// Embed, Component and File are the parts of a message that a bot of this kind uses.
type Embed struct {
	Title       string `json:"title,omitempty"`
	Description string `json:"description,omitempty"`
	Color       *int   `json:"color,omitempty"`
	Footer      *struct {
		Text string `json:"text"`
	} `json:"footer,omitempty"`
	Image *struct {
		URL string `json:"url"`
	} `json:"image,omitempty"`
	Author *struct {
		Name string `json:"name"`
	} `json:"author,omitempty"`
	Fields []struct {
		Name  string `json:"name"`
		Value string `json:"value"`
	} `json:"fields,omitempty"`
}

// Component is a row, a button, or a text input.
type Component struct {
	Type        int         `json:"type"`
	Components  []Component `json:"components,omitempty"`
	CustomID    string      `json:"custom_id,omitempty"`
	Label       string      `json:"label,omitempty"`
	Style       int         `json:"style,omitempty"`
	Value       string      `json:"value,omitempty"`
	Placeholder string      `json:"placeholder,omitempty"`
	Required    *bool       `json:"required,omitempty"`
	Component   *Component  `json:"component,omitempty"` // of a Label
}

// File is an attachment.
type File struct {
	Name, Type, Alt string
	Data            []byte
}

// Text is all that can be read in the message.
func (m Message) Text() string {
	parts := []string{m.Content}
	for _, e := range m.Embeds {
		parts = append(parts, e.Title, e.Description)
		if e.Footer != nil {
			parts = append(parts, e.Footer.Text)
		}
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), "\n")
}

// Buttons are the buttons under the message.
func (m Message) Buttons() []Component {
	var all []Component
	for _, row := range m.Components {
		all = append(all, row.Components...)
	}
	return all
}

// Messages is what stands in the channel now, oldest first; without what only one member sees.
func (p *Platform) Messages() []Message {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.visible()
}

// Posted is what the bot has posted there.
func (p *Platform) Posted() []Message {
	return slices.DeleteFunc(p.Messages(), func(m Message) bool { return !m.Bot })
}

func (p *Platform) visible() []Message {
	var all []Message
	for _, m := range p.messages {
		if !m.Deleted && !m.Private {
			all = append(all, *m)
		}
	}
	return all
}

// WaitMessage waits for a message of the bot in the channel that matches.
func (p *Platform) WaitMessage(ctx context.Context, what string, match func(Message) bool) (found Message, err error) {
	err = p.wait(ctx, what, func() bool {
		for _, m := range p.visible() {
			if m.Bot && match(m) {
				found = m
				return true
			}
		}
		return false
	})
	return found, err
}
