package command

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

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
