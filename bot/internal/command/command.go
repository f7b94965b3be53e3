// Package command is what people can say and press, defined once for every chat.
//
// A command is one value in the table of commands: its words, its options, what it does. The adapters announce
// and show it, the help text lists it; adding one touches one place. So it is with a button and the table of buttons. Whatever a member says is stored before it
// is acknowledged; what is doubtful is asked back with the candidates as buttons, which carry all that is
// needed to store the answer, so that they still work after a restart.
package command

import (
	"context"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"tarebell/bot/internal/chat"
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

// Options is what a Handler needs.
type Options struct {
	House     House
	Voice     notice.Voice
	Cylinders []record.Cylinder
	Scales    map[string]Scale // by cylinder; absent: weights are typed
	Members   []record.Member  // as the config lists them
	Household string
	Currency  string                     // of the config's prices; "" none
	Closed    func(day time.Time) string // why the supplier is closed, "" open
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

// Handler answers the household, one request at a time: of two people the first one counts.
type Handler struct {
	opt   Options
	mu    sync.Mutex
	asked map[string]question // by the id of who was asked
}

// New returns a handler.
func New(o Options) *Handler { return &Handler{opt: o, asked: map[string]question{}} }

var _ chat.Handler = (*Handler)(nil)

// command is one thing people can say. Of several cylinders it is about one, which an option names that need not be in the table.
type command struct {
	chat.Spec
	household bool     // it is about the household as a whole
	cylinders []string // options that name a cylinder, for a command that needs more than one
	run       action
	suggest   func(h *Handler, c chat.Call, option string) []chat.Choice
}

// Specs is every command as it is announced.
func (h *Handler) Specs() []chat.Spec {
	var names []chat.Choice
	for _, c := range h.opt.Cylinders {
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

// find is the command of that name, nil for none.
func find(name string) *command {
	if i := slices.IndexFunc(commands, func(c command) bool { return c.Name == name }); i >= 0 {
		return &commands[i]
	}
	return nil
}

// Call runs a command.
func (h *Handler) Call(ctx context.Context, c chat.Call) chat.Answer {
	cmd := find(c.Name)
	if cmd == nil {
		return say("There is no /"+c.Name+".", "Say /help for what there is.")
	}
	return h.run(ctx, cmd.run, request{id: c.ID, at: c.At, by: c.By, cylinder: c.Options["cylinder"], options: c.Options, people: c.People})
}

// Suggest offers values for an option while it is typed.
func (h *Handler) Suggest(_ context.Context, c chat.Call, option string) []chat.Choice {
	if cmd := find(c.Name); cmd != nil && cmd.suggest != nil {
		return cmd.suggest(h, c, option)
	}
	return nil
}

// Press acts on a button.
func (h *Handler) Press(ctx context.Context, p chat.Press) chat.Answer {
	do, r := press(p.Button, request{id: p.ID, at: p.At, by: p.By, options: p.Fields})
	return h.run(ctx, do, r)
}

// press is what a button does. Its argument is the name of a cylinder unless the action reads more from it.
func press(button string, r request) (action, request) {
	what, arg, _ := strings.Cut(button, ":")
	r.button, r.arg, r.cylinder = button, arg, arg
	if do := buttons[what]; do != nil {
		return do, r
	}
	return func(*Handler, context.Context, request) (chat.Answer, error) { return chat.Answer{}, errStale }, r
}

// Say reads a line typed in the channel: a weight is stored, a doubtful one asked back, talk left alone.
func (h *Handler) Say(ctx context.Context, s chat.Said) chat.Answer {
	read := action(func(h *Handler, ctx context.Context, r request) (chat.Answer, error) { return h.readMessage(ctx, r, s) })
	return h.run(ctx, read, request{id: s.ID, at: s.At, by: s.By, text: s.Text})
}

// run carries out a request when it is its turn.
func (h *Handler) run(ctx context.Context, do action, r request) chat.Answer {
	h.mu.Lock()
	defer h.mu.Unlock()
	r.by = h.memberOf(r.by)
	a, err := do(h, ctx, r)
	if err != nil {
		a = h.explain(err)
	}
	h.rememberQuestion(r, a)
	return a
}
