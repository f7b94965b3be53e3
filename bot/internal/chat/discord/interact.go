package discord

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"strconv"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// interaction takes a command, a press, a sent form, or a question for suggestions. It never blocks.
func (c *Channel) interaction(raw json.RawMessage) {
	var i interaction
	_ = json.Unmarshal(raw, &i) // goes on after a value of another type, and leaves that out
	if i.ID == "" || i.Token == "" {
		return
	}
	x := &exchange{c: c, i: i, arrived: time.Now()}
	if i.Type == discordgo.InteractionApplicationCommandAutocomplete {
		c.queue.put(x.suggest)
		return
	}
	x.timer = time.AfterFunc(deferAfter, func() { c.recovering(x.deferAnswer) })
	c.queue.put(func(ctx context.Context) {
		x.answer(ctx, c.answering(func() chat.Answer { return x.handle(ctx) }))
	})
}

// privately is a private remark.
func privately(text string) chat.Answer {
	return chat.Answer{Message: &chat.Message{Headline: text, Private: true}}
}

// handle calls the handler, if who and where are right.
func (x *exchange) handle(ctx context.Context) chat.Answer {
	c, i := x.c, x.i
	by := member(i.Member, i.User)
	switch {
	case i.Guild == "" || i.Member == nil:
		return privately("I only work in my household's channel, not in direct messages.")
	case i.Channel != c.opt.Channel:
		return privately("I only work in my household's channel. Please say it there.")
	case !c.mayWrite(by):
		return privately("Your roles don't allow that here. Whoever set me up can change it.")
	case by.ID == "" || !c.done.add(i.ID):
		return chat.Answer{}
	}
	switch i.Type {
	case discordgo.InteractionApplicationCommand:
		return c.handler.Call(ctx, called(i, by))
	case discordgo.InteractionMessageComponent:
		return c.handler.Press(ctx, chat.Press{ID: i.ID, At: idTime(i.ID), By: by, Button: i.Data.CustomID})
	case discordgo.InteractionModalSubmit:
		return c.handler.Press(ctx, chat.Press{ID: i.ID, At: idTime(i.ID), By: by, Button: i.Data.CustomID, Fields: fields(i.Data.Components)})
	}
	return privately("I don't know what that was.")
}

// called is a command with its options as text.
func called(i interaction, by chat.Member) chat.Call {
	call := chat.Call{ID: i.ID, At: idTime(i.ID), By: by, Name: i.Data.Name, Options: map[string]string{}}
	for _, o := range i.Data.Options {
		if o == nil {
			continue
		}
		v, ok := value(o.Value)
		if !ok {
			continue
		}
		call.Options[o.Name] = v
		if o.Type == discordgo.ApplicationCommandOptionUser {
			if call.People == nil {
				call.People = map[string]chat.Member{}
			}
			m := member(i.Data.Resolved.Members[v], i.Data.Resolved.Users[v])
			m.ID = v
			m.Name = cmp.Or(m.Name, v)
			call.People[o.Name] = m
		}
	}
	return call
}

// value is an option's value as text.
func value(v any) (string, bool) {
	switch v := v.(type) {
	case string:
		return v, true
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64), true
	case bool:
		return strconv.FormatBool(v), true
	}
	return "", false
}

// fields are the values of a form.
func fields(lines []formPart) map[string]string {
	out := map[string]string{}
	for _, l := range lines {
		if in := l.Component; in != nil && in.Value != nil {
			out[in.CustomID] = *in.Value
		}
	}
	return out
}

// suggest answers while an option is being typed. Suggestions that come too late are not sent: the member has
// typed on.
func (x *exchange) suggest(ctx context.Context) {
	by := member(x.i.Member, x.i.User)
	i := slices.IndexFunc(x.i.Data.Options, func(o *calledOption) bool { return o != nil && o.Focused })
	if i < 0 || x.i.Channel != x.c.opt.Channel || !x.c.mayWrite(by) {
		x.sendChoices(ctx, nil, chat.Text)
		return
	}
	o, kind := x.i.Data.Options[i], chat.Text
	if o.Type == discordgo.ApplicationCommandOptionNumber {
		kind = chat.Number
	}
	x.sendChoices(ctx, x.c.handler.Suggest(ctx, called(x.i, by), o.Name), kind)
}

func (x *exchange) sendChoices(ctx context.Context, list []chat.Choice, kind chat.OptionKind) {
	ctx = context.WithoutCancel(ctx)
	x.c.background(func() {
		body := callback{Type: discordgo.InteractionApplicationCommandAutocompleteResult, Data: map[string]any{"choices": choices(list, kind)}}
		if err := x.respond(ctx, body, nil); err != nil {
			x.c.log.Debug("suggestions not sent", "err", err)
		}
	})
}

// label is one line of a form, with its text input (Discord documentation: component reference, label).
type label struct {
	Type      int       `json:"type"`
	Label     string    `json:"label"`
	Component textInput `json:"component"`
}

type textInput struct {
	Type        int    `json:"type"`
	CustomID    string `json:"custom_id"`
	Style       int    `json:"style"`
	Placeholder string `json:"placeholder,omitempty"`
	Value       string `json:"value,omitempty"`
	Required    bool   `json:"required"`
}

// modal is a form in the platform's shape.
func modal(f chat.Form) map[string]any {
	lines := []label{}
	for _, field := range f.Fields[:min(len(f.Fields), 5)] {
		lines = append(lines, label{Type: 18, Label: cut(chat.OneLine(field.Label), 45), Component: textInput{
			Type: 4, CustomID: cut(field.Name, maxCustomID), Style: 1, Required: field.Required,
			Placeholder: cut(chat.OneLine(field.Example), 100), Value: cut(chat.OneLine(field.Value), 4000)}})
	}
	return map[string]any{"custom_id": f.ID, "title": cut(chat.OneLine(f.Title), 45), "components": lines}
}
