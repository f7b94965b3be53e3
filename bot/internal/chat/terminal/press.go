package terminal

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tarebell/bot/internal/chat"
)

// pending is a form whose questions are being answered.
type pending struct {
	form   chat.Form
	by     chat.Member
	fields map[string]string
	next   int // the field that is asked for
}

// press handles "/press 12a" and "/press 12a field:value …".
func (c *Channel) press(ctx context.Context, rest string) {
	code, more, _ := strings.Cut(strings.TrimSpace(rest), " ")
	n, b, why := c.button(strings.ToLower(strings.Trim(code, "[]")))
	if why != "" {
		c.print.note(why)
		return
	}
	a := c.handler.Press(ctx, chat.Press{ID: c.id(), At: c.opt.Now(), By: c.opt.Me, Button: b.ID})
	c.settle(n, a)
	if a.Form == nil {
		c.answer(a)
		return
	}
	c.begin(*a.Form, c.opt.Me)
	if c.form == nil || more == "" {
		return
	}
	if err := c.form.prefill(more); err != nil {
		c.print.note(err.Error())
	} else if c.form.complete() {
		c.send(ctx)
	}
}

// button finds what a code stands for, or says why there is none.
func (c *Channel) button(code string) (n int, b chat.Button, why string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	var letter rune
	if got, _ := fmt.Sscanf(code, "%d%c", &n, &letter); got != 2 {
		return 0, b, "Say which button: /press and its code, as in /press 12a." + c.newest()
	}
	e, ok := c.log.posts[n]
	i := int(letter - 'a')
	switch {
	case ok && i >= 0 && i < len(e.Message.Buttons):
		return n, e.Message.Buttons[i], ""
	case ok && len(e.Message.Buttons) == 0:
		return 0, b, fmt.Sprintf("The buttons of message %d have been dealt with.", n) + c.newest()
	}
	return 0, b, fmt.Sprintf("There is no button %s.", code) + c.newest()
}

// newest names the buttons nearest at hand.
func (c *Channel) newest() string {
	for n := c.log.next - 1; n > 0 && n > c.log.next-kept; n-- {
		if e, ok := c.log.posts[n]; ok && len(e.Message.Buttons) > 0 {
			text := "\nThe newest:"
			for i, code := range codes(n, len(e.Message.Buttons)) {
				text += fmt.Sprintf(" /press %s [%s]", code, e.Message.Buttons[i].Label)
			}
			return text
		}
	}
	return "\nNo message has buttons now."
}

// settle takes the buttons of message n away if the answer says that they have done their work.
func (c *Channel) settle(n int, a chat.Answer) {
	if !a.Replace {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	e, ok := c.log.posts[n]
	if !ok || len(e.Message.Buttons) == 0 {
		return
	}
	m := *e.Message
	m.Buttons = nil
	e.Message = &m
	c.write(e)
	c.write(entry{Read: n})
}

// begin starts asking for the fields of a form.
func (c *Channel) begin(f chat.Form, by chat.Member) {
	c.titles[f.ID] = f.Title
	c.form = nil
	if len(f.Fields) > 0 {
		c.form = &pending{form: f, by: by, fields: map[string]string{}}
	}
}

// ask prints the next question.
func (c *Channel) ask() {
	p := c.form
	f := p.form.Fields[p.next]
	text := fmt.Sprintf("%s, %d of %d: %s?", chat.OneLine(p.form.Title), p.next+1, len(p.form.Fields), strings.TrimSuffix(chat.OneLine(f.Label), "?"))
	if f.Example != "" {
		text += " For example: " + chat.OneLine(f.Example) + "."
	}
	if f.Value != "" {
		text += " A dot takes: " + chat.OneLine(f.Value) + "."
	} else if !f.Required {
		text += " A dot leaves it out."
	}
	c.print.note(text + " (/cancel)")
}

// fillIn takes a line as the answer to the question that was asked, and sends the form after the last one.
func (c *Channel) fillIn(ctx context.Context, line string) {
	p := c.form
	f := p.form.Fields[p.next]
	switch {
	case line != ".":
		p.fields[f.Name] = line
	case f.Value != "":
		p.fields[f.Name] = f.Value
	case f.Required:
		c.ask()
		return
	}
	if p.advance() {
		c.ask()
		return
	}
	c.send(ctx)
}

// advance moves on to the next field without an answer, if there is one.
func (p *pending) advance() bool {
	for p.next++; p.next < len(p.form.Fields); p.next++ {
		if _, ok := p.fields[p.form.Fields[p.next].Name]; !ok {
			return true
		}
	}
	return false
}

// prefill takes "field:value field:value".
func (p *pending) prefill(line string) error {
	spec := chat.Spec{Name: "press"}
	for _, f := range p.form.Fields {
		spec.Options = append(spec.Options, chat.Option{Name: f.Name})
	}
	got, err := parseOptions(spec, line)
	if err != nil {
		return err
	}
	maps.Copy(p.fields, got)
	if _, ok := p.fields[p.form.Fields[p.next].Name]; ok {
		p.advance()
	}
	return nil
}

// complete says whether every required field has a value; those with a value to start from get it.
func (p *pending) complete() bool {
	for _, f := range p.form.Fields {
		if _, ok := p.fields[f.Name]; ok {
			continue
		}
		if f.Required && f.Value == "" {
			return false
		}
	}
	return true
}

// send presses the form's button with its fields.
func (c *Channel) send(ctx context.Context) {
	p := c.form
	c.form = nil
	for _, f := range p.form.Fields {
		if _, ok := p.fields[f.Name]; !ok {
			p.fields[f.Name] = f.Value
		}
	}
	c.answer(c.handler.Press(ctx, chat.Press{ID: c.id(), At: c.opt.Now(), By: p.by, Button: p.form.ID, Fields: p.fields}))
}

func (c *Channel) cancel() {
	if c.form == nil {
		c.print.note("There is nothing to cancel.")
		return
	}
	c.dropForm("cancelled")
}

func (c *Channel) dropForm(why string) {
	if c.form == nil {
		return
	}
	c.print.note(fmt.Sprintf("%q was not sent: %s.", chat.OneLine(c.form.form.Title), why))
	c.form = nil
}

// filledIn lists filled-in fields in the order of their names, as "field: value".
func filledIn(fields map[string]string) []string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(fields)) {
		if fields[k] != "" {
			out = append(out, k+": "+chat.OneLine(fields[k]))
		}
	}
	return out
}
