package terminal

import (
	"context"
	"slices"

	"tarebell/bot/internal/chat"
)

// The methods below let the program make members speak, as a demonstration does. What they do is printed as if
// it had been typed in a group channel, and handled in the same way and order as what comes from the input.

// Says lets by say text.
func (c *Channel) Says(ctx context.Context, by chat.Member, text string) chat.Answer {
	c.turn.Lock()
	defer c.turn.Unlock()
	at := c.opt.Now()
	c.print.said(at, by, text)
	return c.follow(c.handler.Say(ctx, chat.Said{ID: c.id(), At: at, By: by, Text: text}))
}

// Calls lets by give a command; options are pairs of name and value.
func (c *Channel) Calls(ctx context.Context, by chat.Member, command string, options ...string) chat.Answer {
	c.turn.Lock()
	defer c.turn.Unlock()
	at := c.opt.Now()
	spec, ok := c.spec(command)
	if !ok {
		spec = chat.Spec{Name: command}
	}
	call := chat.Call{ID: c.id(), At: at, By: by, Name: command, Options: chat.Pairs(options...)}
	call.People = people(spec, call.Options)
	c.print.said(at, by, typedLine(spec, call.Options))
	return c.follow(c.handler.Call(ctx, call))
}

// Presses lets by press the newest button with that id, or send a form when fields, pairs of name and value,
// are given. An Answer with a Form is only returned: the caller sends it.
func (c *Channel) Presses(ctx context.Context, by chat.Member, button string, fields ...string) chat.Answer {
	c.turn.Lock()
	defer c.turn.Unlock()
	at := c.opt.Now()
	n, label := c.labelled(button)
	p := chat.Press{ID: c.id(), At: at, By: by, Button: button, Fields: chat.Pairs(fields...)}
	c.print.pressed(at, by, label, filledIn(p.Fields))
	a := c.handler.Press(ctx, p)
	c.settle(n, a)
	if a.Form != nil {
		c.titles[a.Form.ID] = a.Form.Title
		return a
	}
	return c.follow(a)
}

// follow prints an answer and hands it on.
func (c *Channel) follow(a chat.Answer) chat.Answer {
	if a.Message != nil && a.Form == nil {
		c.reply(*a.Message)
	}
	return a
}

// labelled finds the newest message with that button, and what stands on it.
func (c *Channel) labelled(button string) (n int, label string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for n, m := range c.log.newest() {
		if i := slices.IndexFunc(m.Buttons, func(b chat.Button) bool { return b.ID == button }); i >= 0 {
			return n, m.Buttons[i].Label
		}
	}
	if title, ok := c.titles[button]; ok {
		return 0, title
	}
	return 0, button
}
