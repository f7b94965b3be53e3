// Package command is what people can say and press, defined once for every chat.
//
// A command is one value in the table of commands: its words, its options, what it does. The adapters announce
// and show it, the help text lists it; adding one touches one place. So it is with a button and the table of buttons. Whatever a member says is stored before it
// is acknowledged; what is doubtful is asked back with the candidates as buttons, which carry all that is
// needed to store the answer, so that they still work after a restart.
package command

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// House is what commands act on.
type House interface {
	Accept(ctx context.Context, e store.Entry) (store.Entry, error)
	Void(ctx context.Context, seq int64) (store.Entry, error)
	Replace(ctx context.Context, seq int64, e store.Entry) (store.Entry, error)
	Situation(cylinder string, now time.Time) (notice.Situation, bool)
	Entry(ctx context.Context, seq int64) (store.Entry, error)
	Recent(ctx context.Context, kind record.Kind, n int) ([]store.Entry, error)
	Account(now time.Time) notice.Account
}

// Options is what a Desk stands on.
type Options struct {
	House     House
	Voice     notice.Voice
	Cylinders []record.Cylinder
	Scales    map[string]Scale // by cylinder; absent: weights are typed
	Members   []record.Member  // as the config lists them
	Household string
	Currency  string                     // of the config's prices; "" none
	Closed    func(day time.Time) string // why the supplier is closed, "" open; nil: always open
	FreeText  bool                       // weights typed without a command are read
	Draw      func(notice.Situation) ([]byte, error)
	DrawUse   func(notice.Situation) ([]byte, error) // the weeks; no picture while there are too few of them
	Log       *slog.Logger
}

// Scale is how a cylinder's scale speaks.
type Scale struct {
	Unit          string // g, kg, lb or oz
	Raw           bool   // it sends counts: gross = (counts - Zero)/PerUnit in Unit
	Zero, PerUnit float64
}

// Desk answers the household, one at a time: who is first is first.
type Desk struct {
	opt   Options
	mu    sync.Mutex
	asked map[string]question // by the id of who was asked
}

// New returns a desk.
func New(o Options) *Desk { return &Desk{opt: o, asked: map[string]question{}} }

var _ chat.Handler = (*Desk)(nil)

// command is one thing people can say. Of several cylinders it is about one, which an option names that need not be in the table.
type command struct {
	chat.Spec
	household bool     // it is about the household as a whole
	cylinders []string // options that name a cylinder, for a command that needs more than one
	run       func(d *Desk, ctx context.Context, c chat.Call) (chat.Answer, error)
	suggest   func(d *Desk, ctx context.Context, c chat.Call, option string) []chat.Choice
}

// Specs is every command as it is announced.
func (d *Desk) Specs() []chat.Spec {
	var names []chat.Choice
	for _, c := range d.opt.Cylinders {
		names = append(names, chat.Choice{Label: c.Name, Value: c.Name})
	}
	var specs []chat.Spec
	for _, c := range commands {
		spec := c.Spec
		spec.Options = slices.Clone(spec.Options)
		switch {
		case len(c.cylinders) > 0:
			if len(names) == 1 {
				continue // there is nothing to change over to
			}
			for i, o := range spec.Options {
				if slices.Contains(c.cylinders, o.Name) {
					spec.Options[i].Choices = names
				}
			}
		case !c.household && len(names) > 1:
			spec.Options = append(spec.Options, chat.Option{Name: "cylinder", Summary: "Which cylinder; the one in use if left out", Choices: names})
		}
		specs = append(specs, spec)
	}
	return specs
}

// called is somebody by the name the household uses, if the config lists their account. Who only calls themselves like
// a member with another account is not taken for them.
func (d *Desk) called(m chat.Member) chat.Member {
	taken := false
	for _, known := range d.opt.Members {
		switch {
		case known.ID == "" || m.ID == "":
		case known.ID == m.ID:
			m.Name = known.Name
			return m
		case strings.EqualFold(strings.TrimSpace(m.Name), known.Name):
			taken = true
		}
	}
	if taken {
		m.Name = fmt.Sprintf("%s (account %s)", m.Name, m.ID)
	}
	return m
}

// Call runs a command.
func (d *Desk) Call(ctx context.Context, c chat.Call) chat.Answer {
	d.mu.Lock()
	defer d.mu.Unlock()
	c.By = d.called(c.By)
	for _, cmd := range commands {
		if cmd.Name == c.Name {
			a, err := cmd.run(d, ctx, c)
			return d.remember(c.By, c.At, d.answer(a, err))
		}
	}
	return say("There is no /"+c.Name+".", "Say /help for what there is.")
}

// Suggest offers values for an option while it is typed.
func (d *Desk) Suggest(ctx context.Context, c chat.Call, option string) []chat.Choice {
	for _, cmd := range commands {
		if cmd.Name == c.Name && cmd.suggest != nil {
			return cmd.suggest(d, ctx, c, option)
		}
	}
	return nil
}

// Problem is a mistake that the person who made it can mend. Its text is shown to them.
type Problem struct{ Said, Mend string }

func (p *Problem) Error() string { return p.Said }

// longestEcho bounds how much of what somebody typed is said back.
const longestEcho = 300

// answer turns a mistake into words for the person and a cause for the log.
func (d *Desk) answer(a chat.Answer, err error) chat.Answer {
	var p *Problem
	switch {
	case err == nil:
		return a
	case errors.As(err, &p):
		a = say(shorten(p.Said, longestEcho), shorten(p.Mend, longestEcho))
		a.Message.Private = true
		return a
	case errors.Is(err, live.ErrVoided):
		return say("That was undone already.")
	case errors.Is(err, store.ErrNotFound):
		return say("That entry is not there any more.")
	case errors.Is(err, store.ErrReplaced):
		d.opt.Log.Error("answering", "err", err)
		return say("That was not noted: the file with everything noted so far was removed or replaced while the bot was running.",
			"Nothing is noted until the right file is in its place and the bot has been started again.")
	}
	d.opt.Log.Error("answering", "err", err)
	return say("That could not be stored, so it does not count.", "The log of the bot says why. Please try again in a while.")
}

// say is an answer of plain lines.
func say(headline string, body ...string) chat.Answer {
	var lines []string
	for _, l := range body {
		if l != "" {
			lines = append(lines, l)
		}
	}
	return chat.Answer{Message: &chat.Message{Headline: headline, Body: lines}}
}

// inUse is the cylinder that is meant when none is named.
func (d *Desk) inUse(now time.Time) string {
	if s, ok := d.opt.House.Situation("", now); ok {
		return s.Cylinder
	}
	return d.opt.Cylinders[0].Name
}

// situation is how things stand with the cylinder that a call names.
func (d *Desk) situation(name string, now time.Time) (notice.Situation, error) {
	s, ok := d.opt.House.Situation(name, now)
	if ok {
		return s, nil
	}
	var names []string
	for _, c := range d.opt.Cylinders {
		names = append(names, c.Name)
	}
	return s, &Problem{fmt.Sprintf("There is no cylinder %q.", name), "There is " + strings.Join(names, ", ") + "."}
}

// deed is something that somebody does here.
type deed struct {
	id   string // makes a repeat harmless
	at   time.Time
	by   chat.Member
	text string // as typed, if it was
}

func called(c chat.Call) deed   { return deed{id: c.ID, at: c.At, by: c.By} }
func pressed(p chat.Press) deed { return deed{id: p.ID, at: p.At, by: p.By} }

// typed is a call with what was typed into one of its options.
func typed(c chat.Call, option string) deed {
	return deed{id: c.ID, at: c.At, by: c.By, text: c.Options[option]}
}

// tell stores an event, of the cylinder in use, now and by who does it, unless it says otherwise.
func (d *Desk) tell(ctx context.Context, x deed, ev record.Event) (store.Entry, error) {
	if ev.At.IsZero() {
		ev.At = x.at
	}
	if ev.Cylinder == "" {
		ev.Cylinder = d.inUse(ev.At)
	}
	if ev.By == "" {
		ev.By = x.by.Name
	}
	ev.Origin = record.Manual
	return d.opt.House.Accept(ctx, store.Entry{Key: "chat/" + x.id, Event: ev, Received: ev.At, Account: x.by.ID, Text: x.text})
}

// noted stores an event and says so, with a button that takes it back.
func (d *Desk) noted(ctx context.Context, x deed, ev record.Event, headline string, body ...string) (chat.Answer, error) {
	e, err := d.tell(ctx, x, ev)
	if err != nil {
		return chat.Answer{}, err
	}
	a := say(headline, body...)
	a.Message.Buttons = undo(e)
	return a, nil
}

// undo is the button that strikes an entry out again.
func undo(e store.Entry) []chat.Button {
	if e.Seq == 0 {
		return nil
	}
	return []chat.Button{{ID: fmt.Sprintf("undo:%d", e.Seq), Label: "Undo"}}
}
