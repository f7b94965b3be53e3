package terminal

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit/mistake"
)

// longest is the longest line that is read, in bytes; a chat message is at most 2000 characters.
const longest = 8000

// Run implements chat.Channel. It returns at the end of the input, when everything typed has been handled, or
// when ctx ends. Without input it waits for ctx.
func (c *Channel) Run(ctx context.Context, h chat.Handler) error {
	c.Handle(h)
	c.repeatUnread()
	if c.opt.In == nil {
		<-ctx.Done()
		return nil
	}
	lines := make(chan string)
	failed := make(chan error, 1)
	go func() { failed <- read(ctx, c.opt.In, lines) }()
	for {
		select {
		case l := <-lines:
			c.typed(ctx, l)
		case err := <-failed:
			c.dropForm("the input ended")
			return err
		case <-ctx.Done():
			return nil
		}
	}
}

// me is who types.
var me = chat.Member{ID: "me", Name: "me"}

// Handle makes h hear what is typed and what the program makes members do. Run does it too.
func (c *Channel) Handle(h chat.Handler) {
	c.turn.Lock()
	defer c.turn.Unlock()
	c.handler = h
}

// read sends the lines of r, a last one without line end included, until its end (nil) or an error. Of a line
// that is too long the beginning is sent. It may stay in Read after ctx has ended; a terminal can't be woken.
func read(ctx context.Context, r io.Reader, lines chan<- string) error {
	b := bufio.NewReaderSize(r, longest)
	for {
		line, err := b.ReadSlice('\n')
		text := string(line)
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = b.ReadSlice('\n')
		}
		if text = strings.TrimSpace(text); text != "" {
			select {
			case lines <- text:
			case <-ctx.Done():
				return nil
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return fmt.Errorf("reading what is typed: %w", err)
		}
	}
}

// typed handles one line of the member Me.
func (c *Channel) typed(ctx context.Context, line string) {
	c.turn.Lock()
	defer c.turn.Unlock()
	line = chat.Plain(line)
	command, ok := strings.CutPrefix(line, "/")
	if !ok {
		if c.form != nil {
			c.fillIn(ctx, line)
			return
		}
		c.answer(c.handler.Say(ctx, chat.Said{ID: c.id(), At: c.opt.Now(), By: me, Text: line}))
		return
	}
	name, rest, _ := strings.Cut(command, " ")
	switch name = strings.ToLower(name); name {
	case "press":
		c.press(ctx, rest)
	case "cancel":
		c.cancel()
	default:
		c.command(ctx, name, rest)
	}
	if c.form != nil {
		c.ask()
	}
}

// command gives a command, or says why it can't.
func (c *Channel) command(ctx context.Context, name, rest string) {
	spec, ok := c.spec(name)
	if !ok {
		c.print.note(c.unknown(name))
		return
	}
	options, err := parseOptions(spec, rest)
	if err != nil {
		c.print.note(err.Error())
		return
	}
	call := chat.Call{ID: c.id(), At: c.opt.Now(), By: me, Name: spec.Name, Options: options}
	call.People = people(spec, options)
	if o, lacks := missing(spec, options); lacks {
		c.print.note(c.lacking(ctx, spec, o, call))
		return
	}
	c.answer(c.handler.Call(ctx, call))
}

func (c *Channel) unknown(name string) string {
	names := []string{"press", "cancel"}
	for _, s := range c.opt.Commands {
		names = append(names, s.Name)
	}
	text := fmt.Sprintf("There is no command /%s here.", name)
	if n, ok := mistake.Nearest(name, names); ok {
		text += fmt.Sprintf(" Did you mean /%s?", n)
	}
	return text + " /help lists them all."
}

func (c *Channel) lacking(ctx context.Context, spec chat.Spec, o chat.Option, call chat.Call) string {
	text := fmt.Sprintf("%s is missing (%s). It goes: %s", o.Name, o.Summary, usage(spec))
	options := o.Choices
	if o.Suggest {
		options = c.handler.Suggest(ctx, call, o.Name)
	}
	if len(options) > 0 {
		text += "\n" + o.Name + " can be: " + labels(options[:min(len(options), 8)])
	}
	return text
}

func (c *Channel) spec(name string) (chat.Spec, bool) {
	for _, s := range c.opt.Commands {
		if strings.EqualFold(s.Name, name) {
			return s, true
		}
	}
	return chat.Spec{}, false
}

// people takes whoever is named at their word: a terminal has no list of members.
func people(spec chat.Spec, options map[string]string) map[string]chat.Member {
	var m map[string]chat.Member
	for _, o := range spec.Options {
		v, given := options[o.Name]
		if !given || o.Kind != chat.Person {
			continue
		}
		if m == nil {
			m = map[string]chat.Member{}
		}
		v = strings.TrimPrefix(v, "@")
		m[o.Name] = chat.Member{ID: v, Name: v}
	}
	return m
}

// answer prints what a member's doing led to.
func (c *Channel) answer(a chat.Answer) {
	switch {
	case a.Form != nil:
		c.begin(*a.Form)
	case a.Message != nil:
		c.reply(*a.Message)
	}
}

// reply prints an answer; one with buttons gets a number in the logbook, so that they can be pressed.
func (c *Channel) reply(m chat.Message) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.show(c.log.next, m, "")
}

// id names what a member did, once and for all.
func (c *Channel) id() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.did++
	return fmt.Sprintf("terminal-%d-%d", c.start, c.did)
}
