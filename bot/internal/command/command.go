// Package command is what people can say and press, defined once for every chat.
//
// A command is one value in the table of commands: its words, its options, what it does. The adapters announce
// and show it, the help text lists it; adding one touches one place. Whatever a member says is stored before it
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
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
)

// House is what commands act on.
type House interface {
	Accept(ctx context.Context, e store.Entry) (store.Entry, error)
	Void(ctx context.Context, seq int64) (store.Entry, error)
	Replace(ctx context.Context, seq int64, e store.Entry) (store.Entry, error)
	Situation(cylinder string, now time.Time) (notice.Situation, bool)
	Entry(ctx context.Context, seq int64) (store.Entry, error)
	Recent(ctx context.Context, kind store.Kind, n int) ([]store.Entry, error)
	Account(now time.Time) notice.Account
}

// Options is what a Desk stands on.
type Options struct {
	House     House
	Voice     notice.Voice
	Cylinders []Cylinder
	Members   []Member // as the config lists them
	Household string
	Currency  string                     // of the config's prices; "" none
	Closed    func(day time.Time) string // why the supplier is closed, "" open; nil: always open
	FreeText  bool                       // weights typed without a command are read
	Draw      func(notice.Situation) ([]byte, error)
	DrawUse   func(notice.Situation) ([]byte, error) // the weeks; no picture while there are too few of them
	Log       *slog.Logger
}

// Cylinder is what makes a typed weight plausible.
type Cylinder struct {
	Name        string
	Empty, Full unit.Grams // on the platform
	Tare        unit.Grams
	Net         unit.Grams // of a nominal fill
	Scale       *Scale     // nil: weights are typed
}

// Scale is how a cylinder's scale speaks.
type Scale struct {
	Unit          string // g, kg, lb or oz
	Raw           bool   // it sends counts: gross = (counts - Zero)/PerUnit in Unit
	Zero, PerUnit float64
}

// Member is somebody of the household.
type Member struct{ Name, ID string }

// Desk answers the household, one at a time: who is first is first.
type Desk struct {
	opt   Options
	mu    sync.Mutex
	asked map[string]question // by the id of who was asked
}

// New returns a desk.
func New(o Options) *Desk { return &Desk{opt: o, asked: map[string]question{}} }

var _ chat.Handler = (*Desk)(nil)

// command is one thing people can say.
type command struct {
	chat.Spec
	run     func(d *Desk, ctx context.Context, c chat.Call) (chat.Answer, error)
	suggest func(d *Desk, ctx context.Context, c chat.Call, option string) []chat.Choice
}

// Specs is every command as it is announced.
func (d *Desk) Specs() []chat.Spec {
	var specs []chat.Spec
	for _, c := range commands {
		spec := c.Spec
		switch {
		case c.Name == "use" && len(d.opt.Cylinders) == 1:
			continue // there is nothing to change over to
		case c.Name == "use" && len(d.opt.Cylinders) > 1:
			spec.Options = slices.Clone(spec.Options)
			for i := range spec.Options {
				spec.Options[i].Choices = d.cylinderOption().Choices
			}
		case len(d.opt.Cylinders) > 1 && c.cylinder():
			spec.Options = append(slices.Clone(spec.Options), d.cylinderOption())
		}
		specs = append(specs, spec)
	}
	return specs
}

// cylinder reports whether the command is about one cylinder.
func (c command) cylinder() bool {
	return !slices.Contains([]string{"help", "undo", "entries", "cost", "serving", "use"}, c.Name)
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

func (d *Desk) cylinderOption() chat.Option {
	o := chat.Option{Name: "cylinder", Summary: "Which cylinder; the one in use if left out"}
	for _, c := range d.opt.Cylinders {
		o.Choices = append(o.Choices, chat.Choice{Label: c.Name, Value: c.Name})
	}
	return o
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

// tell stores an event and answers with what it means.
func (d *Desk) tell(ctx context.Context, ev household.Event, id string, by chat.Member, text string) (store.Entry, error) {
	if ev.Cylinder == "" {
		ev.Cylinder = d.inUse(ev.At)
	}
	if ev.By == "" {
		ev.By = by.Name
	}
	return d.opt.House.Accept(ctx, live.FromEvent(ev, "chat/"+id, by.ID, ev.At, text))
}

// undo is the button that strikes an entry out again.
func undo(e store.Entry) []chat.Button {
	if e.Seq == 0 {
		return nil
	}
	return []chat.Button{{ID: fmt.Sprintf("undo:%d", e.Seq), Label: "Undo"}}
}
