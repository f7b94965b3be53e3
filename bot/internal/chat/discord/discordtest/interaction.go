package discordtest

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"
)

// Interaction is a command, a press, a sent form or a question for suggestions, and what the bot answered.
type Interaction struct {
	ID, Token string
	By        Member
	At        time.Time

	platform *Platform
	kind     int      // of the interaction
	on       *Message // that had the button

	first    time.Time // when the bot reacted
	Type     int       // of the first reaction
	private  bool      // of a deferred answer
	loading  bool
	original *Message
	follow   []*Message
	form     *Form
	choices  []any
	got      bool // choices came
}

// Form is a modal as the bot sent it.
type Form struct {
	ID, Title string
	Inputs    []Component
	from      *Interaction
	old       bool // of Action Rows
}

// Option is what a command is told. Person values are Members.
type Option struct {
	Name    string
	Value   any // string, float64, bool or Member
	Focused bool
}

const (
	kindCommand = 2
	kindPress   = 3
	kindSuggest = 4
	kindForm    = 5
)

// Types lets a member type a message. It is dispatched to the bot if that is connected.
func (p *Platform) Types(by Member, text string) Message { return p.TypesReply(by, text, "") }

// TypesReply lets a member reply to a message.
func (p *Platform) TypesReply(by Member, text, to string) Message {
	return p.put(&Message{By: by, Content: text, ReplyTo: to})
}

// Puts lets a message appear that has fields in place of, or besides, the usual ones: from a webhook, forwarded, with
// parts that nobody has heard of.
func (p *Platform) Puts(by Member, text string, fields map[string]any) Message {
	return p.put(&Message{By: by, Content: text, extra: fields})
}

// Dress gives a message that is there fields in place of, or besides, the usual ones.
func (p *Platform) Dress(id string, fields map[string]any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.message(id).extra = fields
}

func (p *Platform) put(m *Message) Message {
	p.mu.Lock()
	defer p.mu.Unlock()
	m.ID, m.At = p.nextID(), p.Now()
	text := m.Content
	for _, found := range mention.FindAllStringSubmatch(text, -1) {
		m.Pinged = append(m.Pinged, found[1])
	}
	p.messages = append(p.messages, m)
	p.dispatchMessage("MESSAGE_CREATE", m)
	p.wake()
	return *m
}

// Calls lets a member give a command.
func (p *Platform) Calls(by Member, name string, options ...Option) *Interaction {
	return p.interact(by, kindCommand, nil, p.commandData(name, options))
}

// Completes lets a member type an option; the one with Focused is asked about.
func (p *Platform) Completes(by Member, name string, options ...Option) *Interaction {
	return p.interact(by, kindSuggest, nil, p.commandData(name, options))
}

// Presses lets a member press the button with that label, under a message as it stands now. It panics when
// there is no such button: a member could not press it.
func (p *Platform) Presses(by Member, m Message, label string) *Interaction {
	p.mu.Lock()
	now := p.message(m.ID)
	p.mu.Unlock()
	if now == nil {
		panic("discordtest: no message " + m.ID)
	}
	i := slices.IndexFunc(now.Buttons(), func(c Component) bool { return c.Label == label })
	if i < 0 {
		panic(fmt.Sprintf("discordtest: no button %q under %q", label, now.Text()))
	}
	return p.interact(by, kindPress, now, object{"custom_id": now.Buttons()[i].CustomID, "component_type": 2})
}

// Sends lets a member fill in a form and send it; fields are pairs of name and value.
func (p *Platform) Sends(by Member, f *Form, fields ...string) *Interaction {
	rows := []any{}
	for i, in := range f.Inputs {
		value := in.Value
		for k := 0; k+1 < len(fields); k += 2 {
			if fields[k] == in.CustomID {
				value = fields[k+1]
			}
		}
		input := object{"type": 4, "id": 2*i + 2, "custom_id": in.CustomID, "value": value}
		row := object{"type": 18, "id": 2*i + 1, "component": input}
		if f.old {
			row = object{"type": 1, "id": 2*i + 1, "components": []any{input}}
		}
		rows = append(rows, row)
	}
	return p.interact(by, kindForm, f.from.on, object{"custom_id": f.ID, "components": rows})
}

// Raw dispatches an interaction with the given fields in place of the usual ones.
func (p *Platform) Raw(by Member, kind int, data any, change object) *Interaction {
	return p.interactWith(by, kind, nil, data, change)
}

func (p *Platform) commandData(name string, options []Option) object {
	list := []any{}
	users, members := object{}, object{}
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, o := range options {
		entry := object{"name": o.Name, "value": o.Value, "type": 3}
		switch v := o.Value.(type) {
		case float64:
			entry["type"] = 10
		case bool:
			entry["type"] = 5
		case Member:
			entry["type"], entry["value"] = 6, v.ID
			users[v.ID], members[v.ID] = p.user(v), p.member(v, false)
		}
		if o.Focused {
			entry["focused"] = true
		}
		list = append(list, entry)
	}
	return object{"id": p.commandID(name), "name": name, "type": 1, "guild_id": p.Guild, "options": list, "resolved": object{"users": users, "members": members}}
}

func (p *Platform) interact(by Member, kind int, on *Message, data any) *Interaction {
	return p.interactWith(by, kind, on, data, nil)
}

func (p *Platform) interactWith(by Member, kind int, on *Message, data any, change object) *Interaction {
	p.mu.Lock()
	defer p.mu.Unlock()
	x := &Interaction{ID: p.nextID(), By: by, At: p.Now(), platform: p, kind: kind, on: on}
	x.Token = "aW50ZXJhY3Rpb246-" + x.ID + "-token"
	p.interactions[x.Token] = x
	o := object{"id": x.ID, "application_id": p.App, "type": kind, "token": x.Token, "version": 1, "guild_id": p.Guild, "channel_id": p.Channel,
		"locale": "en-US", "guild_locale": "en-US", "app_permissions": strconv.FormatInt(int64(allGiven&^p.denied), 10), "entitlements": []any{}, "context": 0,
		"authorizing_integration_owners": object{"0": p.Guild}, "attachment_size_limit": 10 << 20, "data": data}
	member := p.member(by, true)
	member["permissions"] = "117760"
	o["member"] = member
	if on != nil {
		o["message"] = p.encode(on)
	}
	for k, v := range change {
		o[k] = v
		if v == nil {
			delete(o, k)
		}
	}
	p.dispatch("INTERACTION_CREATE", o)
	p.wake()
	return x
}

// Wait waits for the first reaction, and says of what type it was and how long it took.
func (x *Interaction) Wait(ctx context.Context) (typ int, took time.Duration, err error) {
	err = x.platform.wait(ctx, "a reaction", func() bool { return !x.first.IsZero() })
	x.platform.mu.Lock()
	defer x.platform.mu.Unlock()
	return x.Type, x.first.Sub(x.At), err
}

// Message waits for the message that answers: the reaction itself, a deferred one that was filled in, or a
// message that follows.
func (x *Interaction) Message(ctx context.Context) (m Message, err error) {
	err = x.platform.wait(ctx, "an answer", func() bool {
		for _, c := range append([]*Message{x.original}, x.follow...) {
			if c != nil && !c.Deleted && c != x.on {
				m = *c
				return true
			}
		}
		return false
	})
	return m, err
}

// Form waits for the modal that answers.
func (x *Interaction) Form(ctx context.Context) (f *Form, err error) {
	err = x.platform.wait(ctx, "a form", func() bool { f = x.form; return f != nil })
	return f, err
}

// Choices waits for suggestions, as label and value.
func (x *Interaction) Choices(ctx context.Context) (list []string, err error) {
	err = x.platform.wait(ctx, "suggestions", func() bool { return x.got })
	x.platform.mu.Lock()
	defer x.platform.mu.Unlock()
	for _, c := range x.choices {
		if o, ok := c.(object); ok {
			list = append(list, fmt.Sprintf("%v=%v", o["name"], o["value"]))
		}
	}
	return list, err
}

// Answers is how many messages answer by now.
func (x *Interaction) Answers() int {
	x.platform.mu.Lock()
	defer x.platform.mu.Unlock()
	n := len(x.follow)
	if x.original != nil && x.original != x.on && !x.original.Deleted {
		n++
	}
	return n
}
