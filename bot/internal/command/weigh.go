package command

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

// line is something that was typed as a weight, or that may be one.
type line struct {
	request
	asked   bool         // it was given as a weight, so it is answered in any case
	instead *store.Entry // the weight that it corrects
}

func (h *Handler) weighCalled(ctx context.Context, r request) (chat.Answer, error) {
	r.text = r.options["weight"]
	return h.weigh(ctx, line{request: r, asked: true})
}

// weigh reads a line as a weight.
func (h *Handler) weigh(ctx context.Context, l line) (chat.Answer, error) {
	if l.instead == nil && entry.TakesBack(l.text) {
		var err error
		if l.instead, err = h.lastWeightBy(ctx, l); err != nil {
			return chat.Answer{}, err
		}
	}
	known := h.context(l)
	switch u := entry.Parse(l.text, known).(type) {
	case entry.Understood:
		if l.instead != nil && u.At.Equal(known.Now) {
			u.At = l.instead.At // no other time was said
		}
		return h.noteWeight(ctx, u, l)
	case entry.Doubtful:
		if len(u.Candidates) == 0 {
			return chat.Answer{}, &Problem{Said: u.Question}
		}
		return h.askWhich(u, known, l), nil
	case entry.Reported:
		return h.askState(u, l), nil
	}
	return chat.Answer{}, nil
}

// context is what is known when somebody types. What is being taken back is nothing to compare with.
func (h *Handler) context(l line) entry.Context {
	c := entry.Context{Now: l.at.In(h.opt.Voice.Zone), Units: h.opt.Voice.System, Asked: l.asked, Correcting: l.instead != nil}
	for _, cyl := range h.opt.Cylinders {
		if l.cylinder != "" && cyl.Name != l.cylinder {
			continue
		}
		known := entry.Cylinder{Cylinder: cyl}
		if s, ok := h.opt.House.Situation(cyl.Name, l.at); ok {
			known.Tare = s.GrossEmpty
			known.Spare = s.Spare && l.cylinder == ""
			if !s.Spare && (l.instead == nil || l.instead.Cylinder != cyl.Name) {
				known.Last, known.LastAt, known.Dry = s.LastGross, s.Outlook.LastSeen, !s.Dry.IsZero()
			}
		}
		c.Cylinders = append(c.Cylinders, known)
	}
	return c
}

// weighing is the event of a weight: which cylinder's, and its gross mass.
func (h *Handler) weighing(u entry.Understood, now time.Time) record.Event {
	cyl := h.cylinder(u.Cylinder, now)
	ev := record.Event{Kind: record.Weighed, Cylinder: cyl.Name, Gross: u.Gross, At: u.At, Origin: record.Manual}
	if u.Net {
		ev.Gross += cyl.Empty()
	}
	return ev
}

// noteWeight stores a weight and says what was understood and what it means.
func (h *Handler) noteWeight(ctx context.Context, u entry.Understood, l line) (chat.Answer, error) {
	w := h.weighing(u, l.at)
	w.By = l.by.Name
	if age := l.at.Sub(w.At); 0 <= age && age < time.Minute {
		w.At = l.at
	}
	e, err := h.storeWeight(ctx, store.Entry{Key: key(l), Event: w, Received: l.at, Account: l.by.ID, Text: l.text}, l.instead)
	if err != nil {
		return chat.Answer{}, err
	}
	if e.Seq == 0 {
		return say("That weight is noted already."), nil
	}
	s, err := h.situation(w.Cylinder, l.at)
	if err != nil {
		return chat.Answer{}, err
	}
	heard := h.echo(u, w, l)
	a := say(heard+" "+h.opt.Voice.GasLeft(s), h.opt.Voice.Spread(s), h.opt.Voice.WeighedUp(s, w.Gross, u.Net))
	if l.instead != nil { // in one line
		a.Message.Body = nil
	}
	switch {
	case s.Spare:
		a = say(heard + " It waits with " + h.opt.Voice.Mass(s.SpareNet) + " of gas.")
	case s.Outlook.LastSeen.Before(w.At.Truncate(time.Millisecond)):
		a = say(heard + " It does not fit the weights before, so it is not counted yet.")
	}
	a = withButtons(a, undo(e, "Undo"))
	if s.Outlook.LastSeen.Before(w.At.Add(-time.Second)) {
		a = withButtons(a, button("afresh", fmt.Sprintf("%.2f:%s", float64(w.Gross), w.Cylinder), "It is right: begin anew"))
	}
	return a, nil
}

// storeWeight stores an entry, perhaps in place of another.
func (h *Handler) storeWeight(ctx context.Context, e store.Entry, instead *store.Entry) (store.Entry, error) {
	if instead != nil {
		return h.opt.House.Replace(ctx, instead.Seq, e)
	}
	return h.opt.House.Accept(ctx, e)
}

// echo says a weight back as it was understood.
func (h *Handler) echo(u entry.Understood, w record.Event, l line) string {
	text := "Noted: " + u.Echo(h.opt.Voice.System)
	if l.instead != nil {
		text = "Corrected: " + u.Echo(h.opt.Voice.System) + " instead of " + h.opt.Voice.Exact(l.instead.Gross)
	}
	if u.Net {
		text += ", so " + h.opt.Voice.Exact(w.Gross) + " on the scale"
	}
	if len(h.opt.Cylinders) > 1 {
		text += " for " + w.Cylinder
	}
	if l.at.Sub(w.At) >= time.Minute {
		text += ", weighed at " + h.opt.Voice.Moment(w.At, l.at)
	}
	return text + "."
}

// askWhich puts a doubtful weight back as one question. Each button carries its whole weighing.
func (h *Handler) askWhich(q entry.Doubtful, known entry.Context, l line) chat.Answer {
	a := say(q.Question)
	offer := func(what, label string, u entry.Understood) {
		arg := fmt.Sprintf("%s:%d:%s:%s", weightArgument(u), u.At.Unix(), strings.TrimPrefix(key(l), keyPrefix), h.cylinder(u.Cylinder, known.Now).Name)
		a = withButtons(a, button(what, arg, shorten(label, 80)))
	}
	for _, u := range q.Candidates[:min(len(q.Candidates), 4)] {
		if q.Reason == entry.Rise {
			offer("refill", "Yes, filled", u)
			offer("take", "Not filled, note "+u.Said(known), u)
		} else {
			offer("take", u.Said(known), u)
		}
	}
	if len(a.Message.Buttons) > 1 {
		return withButtons(a, leaveButton("Neither, leave it"))
	}
	return withButtons(a, leaveButton("No, leave it"))
}

// readCandidate reads the weighing that a button of askWhich carries.
func (h *Handler) readCandidate(ctx context.Context, r request) (u entry.Understood, l line, err error) {
	arg := argument{rest: r.arg}
	u = arg.weight(arg.next())
	u.At = time.Unix(arg.int(arg.next()), 0).In(h.opt.Voice.Zone)
	l = line{request: request{id: arg.next(), at: r.at, by: r.by}}
	u.Cylinder = arg.rest
	if arg.bad {
		return u, l, &Problem{errStale.Said, "Please type the weight again."}
	}
	base, _, _ := strings.Cut(l.id, "~")
	if seq := replacedSeq(l.id); seq > 0 {
		e, err := h.opt.House.Entry(ctx, seq)
		l.id, l.instead = base, &e
		return u, l, err
	}
	noted, err := h.weightOf(ctx, base)
	if err == nil && noted != nil { // the message was edited meanwhile, or somebody pressed before
		err = &Problem{"That message is noted already: " + h.opt.Voice.Exact(noted.Gross) + ".", "Say /undo, or “no, …”, if it is wrong."}
	}
	return u, l, err
}

// noteCandidate stores the candidate that somebody pressed.
func (h *Handler) noteCandidate(ctx context.Context, r request) (chat.Answer, error) {
	u, l, err := h.readCandidate(ctx, r)
	if err != nil {
		return chat.Answer{}, err
	}
	return h.noteWeight(ctx, u, l)
}

// afreshCalled begins anew with a weight that is typed.
func (h *Handler) afreshCalled(ctx context.Context, r request) (chat.Answer, error) {
	text := r.options["weight"]
	u, ok := entry.Parse(text, h.context(line{request: r, asked: true})).(entry.Understood)
	if !ok {
		return chat.Answer{}, &Problem{fmt.Sprintf("“%s” is not a weight that leaves no doubt.", text), "Write it with its unit, for example 24.6 kg."}
	}
	w := h.weighing(u, r.at)
	return h.afresh(ctx, r, w.Cylinder, w.Gross)
}

// afreshConfirmed is the button under a weight that was not believed.
func (h *Handler) afreshConfirmed(ctx context.Context, r request) (chat.Answer, error) {
	arg := argument{rest: r.arg}
	gross := arg.grams(arg.next())
	if arg.bad || gross <= 0 {
		return chat.Answer{}, errStale
	}
	return h.afresh(ctx, r, arg.rest, gross)
}

func (h *Handler) afresh(ctx context.Context, r request, cylinder string, gross unit.Grams) (chat.Answer, error) {
	return h.notedAs(ctx, r, record.Event{Cylinder: cylinder, Kind: record.Afresh, Gross: gross}, func(s notice.Situation) chat.Answer {
		return say("Noted: "+h.opt.Voice.Exact(gross)+" counts, and what was believed before is dropped. "+h.opt.Voice.GasLeft(s), "Your use stays as a guess until the next weights.")
	})
}
