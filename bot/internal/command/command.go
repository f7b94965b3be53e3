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

// action carries out a command or a press.
type action func(h *Handler, ctx context.Context, r request) (chat.Answer, error)

// request is a command that was given, or a button that was pressed.
type request struct {
	id       string // makes a repeat harmless
	at       time.Time
	by       chat.Member
	cylinder string                 // "": the one in use
	options  map[string]string      // of the command, or the fields of a form; nil: a button alone
	people   map[string]chat.Member // who is meant by options
	text     string                 // as typed, for the ledger
	button   string                 // id of the button: "what:argument"
	arg      string                 // its argument
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

// Problem is a mistake that the person who made it can mend. Its text is shown to them.
type Problem struct{ Said, Mend string }

func (p *Problem) Error() string { return p.Said }

// errStale is the answer to a button that cannot be read any more.
var errStale = &Problem{"That button is from another time.", "Say /help for what there is now."}

// longestEcho bounds how much of what somebody typed is said back.
const longestEcho = 300

// explain turns a mistake into words for the person and a cause for the log.
func (h *Handler) explain(err error) chat.Answer {
	var p *Problem
	switch {
	case errors.As(err, &p):
		return privately(say(shorten(p.Said, longestEcho), shorten(p.Mend, longestEcho)))
	case errors.Is(err, live.ErrVoided):
		return say("That was undone already.")
	case errors.Is(err, store.ErrNotFound):
		return say("That entry is not there any more.")
	}
	h.opt.Log.Error("answering", "err", err)
	if errors.Is(err, store.ErrReplaced) {
		return say("That was not noted: the file with everything noted so far was removed or replaced while the bot was running.",
			"Nothing is noted until the right file is in its place and the bot has been started again.")
	}
	return say("That could not be stored, so it does not count.", "The log of the bot says why. Please try again in a while.")
}

// say is an answer of plain lines; empty ones are left out.
func say(headline string, body ...string) chat.Answer {
	return chat.Answer{Message: &chat.Message{Headline: headline, Body: slices.DeleteFunc(slices.Clone(body), func(l string) bool { return l == "" })}}
}

func privately(a chat.Answer) chat.Answer {
	a.Message.Private = true
	return a
}

// withButtons is an answer with buttons.
func withButtons(a chat.Answer, buttons ...chat.Button) chat.Answer {
	a.Message.Buttons = append(a.Message.Buttons, buttons...)
	return a
}

func button(what, arg, label string) chat.Button {
	return chat.Button{ID: what + ":" + arg, Label: label}
}

// leaveButton is the last button under a question.
func leaveButton(label string) chat.Button { return button("leave", "", label) }

func shorten(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

// withSituation is an action that needs to know how things stand with the cylinder it is about.
func withSituation(do func(h *Handler, ctx context.Context, r request, s notice.Situation) (chat.Answer, error)) action {
	return func(h *Handler, ctx context.Context, r request) (chat.Answer, error) {
		s, err := h.situation(r.cylinder, r.at)
		if err != nil {
			return chat.Answer{}, err
		}
		return do(h, ctx, r, s)
	}
}

// removingButtons is an action after which its button has done its work.
func removingButtons(do action) action {
	return func(h *Handler, ctx context.Context, r request) (chat.Answer, error) {
		a, err := do(h, ctx, r)
		a.Replace = err == nil
		return a, err
	}
}

// situation is how things stand with the cylinder of that name, "" for the one in use.
func (h *Handler) situation(name string, now time.Time) (notice.Situation, error) {
	s, ok := h.opt.House.Situation(name, now)
	if ok {
		return s, nil
	}
	var names []string
	for _, c := range h.opt.Cylinders {
		names = append(names, c.Name)
	}
	return s, &Problem{fmt.Sprintf("There is no cylinder %q.", name), "There is " + strings.Join(names, ", ") + "."}
}

// inUse is the cylinder that is meant when none is named.
func (h *Handler) inUse(now time.Time) string {
	if s, ok := h.opt.House.Situation("", now); ok {
		return s.Cylinder
	}
	return h.opt.Cylinders[0].Name
}

// cylinder is the one of that name as it is now, which may be another one than the config's after a swap; without a name
// the one in use.
func (h *Handler) cylinder(name string, now time.Time) record.Cylinder {
	if name == "" {
		name = h.inUse(now)
	}
	for _, c := range h.opt.Cylinders {
		if c.Name != name {
			continue
		}
		if s, ok := h.opt.House.Situation(name, now); ok && s.House > 0 {
			c.Tare = s.GrossEmpty
		}
		return c
	}
	return h.opt.Cylinders[0]
}

// storeEvent keeps an event, of the cylinder of the request or the one in use, now and by who asks, unless it says otherwise.
func (h *Handler) storeEvent(ctx context.Context, r request, ev record.Event) (store.Entry, error) {
	if ev.At.IsZero() {
		ev.At = r.at
	}
	if ev.Cylinder == "" {
		ev.Cylinder = h.inUse(ev.At)
	}
	if ev.By == "" {
		ev.By = r.by.Name
	}
	ev.Origin = record.Manual
	return h.opt.House.Accept(ctx, store.Entry{Key: "chat/" + r.id, Event: ev, Received: ev.At, Account: r.by.ID, Text: r.text})
}

// noted stores an event and says so, with a button that takes it back.
func (h *Handler) noted(ctx context.Context, r request, ev record.Event, headline string, body ...string) (chat.Answer, error) {
	return h.notedAs(ctx, r, ev, func(notice.Situation) chat.Answer { return say(headline, body...) })
}

// notedAs is noted with an answer that depends on how things stand afterwards.
func (h *Handler) notedAs(ctx context.Context, r request, ev record.Event, answer func(notice.Situation) chat.Answer) (chat.Answer, error) {
	e, err := h.storeEvent(ctx, r, ev)
	switch {
	case err != nil:
		return chat.Answer{}, err
	case e.Seq == 0:
		return say("That is noted already."), nil
	}
	s, err := h.situation(e.Cylinder, r.at)
	if err != nil {
		return chat.Answer{}, err
	}
	return withButtons(answer(s), undo(e, "Undo")), nil
}
