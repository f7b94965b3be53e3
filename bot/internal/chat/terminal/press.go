package terminal

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tarebell/bot/internal/chat"
)

// pending is a form that is being filled in.
type pending struct {
	chat.Form
	answers map[string]string // by the name of the field; "" where it was left out
}

// next is the field that is asked for, the first without an answer; after the last one it is none.
func (p *pending) next() (i int, f chat.Field) {
	for i, f := range p.Fields {
		if _, ok := p.answers[f.Name]; !ok {
			return i, f
		}
	}
	return len(p.Fields), f
}

// press handles "/press 12a" and "/press 12a field:value …".
func (c *Channel) press(ctx context.Context, rest string) {
	code, more, _ := strings.Cut(strings.TrimSpace(rest), " ")
	n, b, why := c.button(strings.ToLower(strings.Trim(code, "[]")))
	if why != "" {
		c.print.note(why)
		return
	}
	a := c.handler.Press(ctx, chat.Press{ID: c.id(), At: c.opt.Now(), By: me, Button: b.ID})
	c.settle(n, a)
	if a.Form == nil {
		c.answer(a)
		return
	}
	c.begin(*a.Form)
	if c.form == nil || more == "" {
		return
	}
	if err := c.form.prefill(more); err != nil {
		c.print.note(err.Error())
	} else if !slices.ContainsFunc(c.form.Fields, c.form.lacks) {
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
	for n, m := range c.log.newest() {
		if len(m.Buttons) > 0 {
			text := "\nThe newest:"
			for i, code := range codes(n, len(m.Buttons)) {
				text += fmt.Sprintf(" /press %s [%s]", code, m.Buttons[i].Label)
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
func (c *Channel) begin(f chat.Form) {
	c.titles[f.ID] = f.Title
	c.form = nil
	if len(f.Fields) > 0 {
		c.form = &pending{f, map[string]string{}}
	}
}

// ask prints the next question.
func (c *Channel) ask() {
	i, f := c.form.next()
	text := fmt.Sprintf("%s, %d of %d: %s?", chat.OneLine(c.form.Title), i+1, len(c.form.Fields), strings.TrimSuffix(chat.OneLine(f.Label), "?"))
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
	_, f := c.form.next()
	if line == "." {
		line = f.Value
	}
	if line != "" || !f.Required {
		c.form.answers[f.Name] = line
	}
	if i, _ := c.form.next(); i == len(c.form.Fields) {
		c.send(ctx)
	} else {
		c.ask()
	}
}

// prefill takes "field:value field:value".
func (p *pending) prefill(line string) error {
	spec := chat.Spec{Name: "press"}
	for _, f := range p.Fields {
		spec.Options = append(spec.Options, chat.Option{Name: f.Name})
	}
	got, err := parseOptions(spec, line)
	maps.Copy(p.answers, got)
	return err
}

// lacks says whether a field has to be asked for before the form can be sent.
func (p *pending) lacks(f chat.Field) bool {
	_, ok := p.answers[f.Name]
	return !ok && f.Required && f.Value == ""
}

// send presses the form's button with its fields; those without an answer have the value that they started from.
func (c *Channel) send(ctx context.Context) {
	p := c.form
	c.form = nil
	for _, f := range p.Fields {
		if _, ok := p.answers[f.Name]; !ok {
			p.answers[f.Name] = f.Value
		}
	}
	c.answer(c.handler.Press(ctx, chat.Press{ID: c.id(), At: c.opt.Now(), By: me, Button: p.ID, Fields: p.answers}))
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
	c.print.note(fmt.Sprintf("%q was not sent: %s.", chat.OneLine(c.form.Title), why))
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
