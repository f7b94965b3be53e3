package discord

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"github.com/bwmarrin/discordgo"

	"tarebell/bot/internal/chat"
)

// interaction takes a command, a press, a sent form, or a question for suggestions. It never blocks.
func (c *Channel) interaction(i *discordgo.Interaction) {
	if i.ID == "" || i.Token == "" {
		return
	}
	x := &exchange{c: c, i: i, arrived: time.Now()}
	if i.Type == discordgo.InteractionApplicationCommandAutocomplete {
		c.queue.put(x.suggest)
		return
	}
	x.timer = time.AfterFunc(c.opt.Pace.Defer, func() { c.guarded(x.askForTime) })
	c.queue.put(func(ctx context.Context) {
		defer func() { // whatever went wrong, the member is told something
			if p := recover(); p != nil {
				x.answer(ctx, tell("Something went wrong here. Please check with /entries what was stored."))
				panic(p)
			}
		}()
		x.answer(ctx, x.handle(ctx))
	})
}

// tell is a private remark.
func tell(text string) chat.Answer {
	return chat.Answer{Message: &chat.Message{Headline: text, Private: true}}
}

// handle calls the handler, if who and where are right.
func (x *exchange) handle(ctx context.Context) chat.Answer {
	c, i := x.c, x.i
	by := member(i.Member, i.User)
	switch {
	case i.GuildID == "" || i.Member == nil:
		return tell("I only work in my household's channel, not in direct messages.")
	case i.ChannelID != c.opt.Channel:
		return tell("I only work in my household's channel. Please say it there.")
	case !c.mayWrite(by):
		return tell("Your roles don't allow that here. Whoever set me up can change it.")
	case by.ID == "" || !c.done.add(i.ID):
		return chat.Answer{}
	}
	at, err := discordgo.SnowflakeTimestamp(i.ID)
	if err != nil {
		at = time.Now()
	}
	switch data := i.Data.(type) {
	case discordgo.ApplicationCommandInteractionData:
		return c.handler.Call(ctx, called(i, data, by, at.UTC()))
	case discordgo.MessageComponentInteractionData:
		return c.handler.Press(ctx, chat.Press{ID: i.ID, At: at.UTC(), By: by, Button: data.CustomID})
	case discordgo.ModalSubmitInteractionData:
		return c.handler.Press(ctx, chat.Press{ID: i.ID, At: at.UTC(), By: by, Button: data.CustomID, Fields: fields(data)})
	}
	return tell("I don't know what that was.")
}

// called is a command with its options as text.
func called(i *discordgo.Interaction, d discordgo.ApplicationCommandInteractionData, by chat.Member, at time.Time) chat.Call {
	call := chat.Call{ID: i.ID, At: at, By: by, Name: d.Name, Options: map[string]string{}}
	for _, o := range d.Options {
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
			call.People[o.Name] = resolve(d.Resolved, v)
		}
	}
	return call
}

// value is an option's value as text; the library's own accessors panic when a type is not as expected.
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

func resolve(r *discordgo.ApplicationCommandInteractionDataResolved, id string) chat.Member {
	if r == nil {
		return chat.Member{ID: id, Name: id}
	}
	m := member(r.Members[id], r.Users[id])
	m.ID = id
	if m.Name == "" {
		m.Name = id
	}
	return m
}

// fields are the values of a form.
func fields(d discordgo.ModalSubmitInteractionData) map[string]string {
	out := map[string]string{}
	for _, row := range d.Components {
		r, ok := row.(*discordgo.ActionsRow)
		if !ok || r == nil {
			continue
		}
		for _, in := range r.Components {
			if t, ok := in.(*discordgo.TextInput); ok && t != nil {
				out[t.CustomID] = t.Value
			}
		}
	}
	return out
}

// suggest answers while an option is being typed. Suggestions that come too late are not sent: the member has
// typed on.
func (x *exchange) suggest(ctx context.Context) {
	data, ok := x.i.Data.(discordgo.ApplicationCommandInteractionData)
	by := member(x.i.Member, x.i.User)
	if !ok || x.i.ChannelID != x.c.opt.Channel || !x.c.mayWrite(by) {
		x.sendChoices(ctx, nil, chat.Text)
		return
	}
	for _, o := range data.Options {
		if o == nil || !o.Focused {
			continue
		}
		kind := chat.Text
		if o.Type == discordgo.ApplicationCommandOptionNumber {
			kind = chat.Number
		}
		x.sendChoices(ctx, x.c.handler.Suggest(ctx, called(x.i, data, by, time.Now().UTC()), o.Name), kind)
		return
	}
	x.sendChoices(ctx, nil, chat.Text)
}

func (x *exchange) sendChoices(ctx context.Context, list []chat.Choice, kind chat.OptionKind) {
	left := x.c.opt.Pace.Answer - time.Since(x.arrived)
	if left <= 0 {
		return
	}
	x.c.sends.Go(func() {
		x.c.guarded(func() {
			ctx, cancel := context.WithTimeout(ctx, left)
			defer cancel()
			body := callback{Type: discordgo.InteractionApplicationCommandAutocompleteResult, Data: map[string]any{"choices": choices(list, kind)}}
			if err := x.c.rest.do(ctx, x.callback("suggesting values", body, nil)); err != nil {
				x.c.log.Debug("suggestions not sent", "err", err)
			}
		})
	})
}

// modal is a form in the platform's shape. The library can't read one that uses the newer Label component.
func modal(f chat.Form) map[string]any {
	rows := []discordgo.MessageComponent{}
	for _, field := range f.Fields[:min(len(f.Fields), 5)] {
		rows = append(rows, discordgo.ActionsRow{Components: []discordgo.MessageComponent{discordgo.TextInput{
			CustomID:    cut(field.Name, maxCustomID),
			Label:       cut(chat.OneLine(field.Label), 45),
			Style:       discordgo.TextInputShort,
			Placeholder: cut(chat.OneLine(field.Example), 100),
			Value:       cut(chat.OneLine(field.Value), 4000),
			Required:    field.Required,
		}}})
	}
	return map[string]any{"custom_id": f.ID, "title": cut(chat.OneLine(f.Title), 45), "components": rows}
}

// who is a member's name for a message that can't be an answer to them any more.
func who(m *discordgo.Member) string {
	if n := member(m, nil).Name; n != "" {
		return fmt.Sprintf("%s: ", n)
	}
	return ""
}
