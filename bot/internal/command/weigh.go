package command

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

// line is something that was typed as a weight, or that may be one.
type line struct {
	text     string
	id       string // of the message
	at       time.Time
	by       chat.Member
	cylinder string // "": not said apart
	asked    bool   // it was given as a weight, so it is answered in any case
	instead  *store.Entry
}

// Say reads a line typed in the channel: a weight is stored, a doubtful one asked back, talk left alone.
func (d *Desk) Say(ctx context.Context, s chat.Said) chat.Answer {
	d.mu.Lock()
	defer d.mu.Unlock()
	s.By = d.called(s.By)
	a, err := d.hear(ctx, s)
	return d.remember(s.By, s.At, d.answer(a, err))
}

func (d *Desk) hear(ctx context.Context, s chat.Said) (chat.Answer, error) {
	switch {
	case s.Deleted:
		return d.deleted(ctx, s)
	case !s.Changed.IsZero():
		return d.edited(ctx, s)
	}
	if button, ok := d.chosen(s); ok {
		what, arg, _ := strings.Cut(button, ":")
		return d.press(ctx, chat.Press{ID: s.ID, At: s.At, By: s.By, Button: button}, what, arg)
	}
	return d.weigh(ctx, line{text: s.Text, id: s.ID, at: s.At, by: s.By})
}

// weigh reads a line as a weight.
func (d *Desk) weigh(ctx context.Context, l line) (chat.Answer, error) {
	if l.instead == nil && entry.TakesBack(l.text) {
		old, err := d.justNow(ctx, l)
		if err != nil {
			return chat.Answer{}, err
		}
		l.instead = old
	}
	known := d.context(l)
	switch r := entry.Parse(l.text, known).(type) {
	case entry.Understood:
		if l.instead != nil && r.At.Equal(known.Now) {
			r.At = l.instead.At // no other time was said
		}
		return d.note(ctx, r, l)
	case entry.Doubtful:
		if len(r.Candidates) == 0 {
			return chat.Answer{}, &Problem{Said: r.Question}
		}
		return d.ask(r, known, l), nil
	case entry.Reported:
		return d.askState(r, l), nil
	}
	return chat.Answer{}, nil
}

// context is what is known when somebody types. What is being taken back is nothing to compare with.
func (d *Desk) context(l line) entry.Context {
	c := entry.Context{Now: l.at.In(d.opt.Voice.Zone), Units: d.opt.Voice.System, Asked: l.asked, Correcting: l.instead != nil}
	for _, cyl := range d.opt.Cylinders {
		if l.cylinder != "" && cyl.Name != l.cylinder {
			continue
		}
		known := entry.Cylinder{Cylinder: cyl}
		if s, ok := d.opt.House.Situation(cyl.Name, l.at); ok {
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

// note stores a weight and says what was understood and what it means.
func (d *Desk) note(ctx context.Context, u entry.Understood, l line) (chat.Answer, error) {
	cyl := d.cylinder(u.Cylinder, l.at)
	w := record.Event{Kind: record.Weighed, Cylinder: cyl.Name, Gross: u.Gross, At: u.At, By: l.by.Name, Origin: record.Manual}
	if u.Net {
		w.Gross += cyl.Empty()
	}
	if age := l.at.Sub(w.At); 0 <= age && age < time.Minute {
		w.At = l.at
	}
	e, err := d.keep(ctx, store.Entry{Key: key(l), Event: w, Received: l.at, Account: l.by.ID, Text: l.text}, l.instead)
	if err != nil {
		return chat.Answer{}, err
	}
	if e.Seq == 0 {
		return say("That weight is noted already."), nil
	}
	s, err := d.situation(cyl.Name, l.at)
	if err != nil {
		return chat.Answer{}, err
	}
	heard := d.heard(u, w, l)
	a := say(heard+" "+d.opt.Voice.Lasts(s), d.opt.Voice.Spread(s), d.opt.Voice.WeighedUp(s, w.Gross, u.Net))
	if l.instead != nil { // in one line
		a.Message.Body = nil
	}
	switch {
	case s.Spare:
		a = say(heard + " It waits with " + d.opt.Voice.Mass(s.Rest) + " of gas.")
	case s.Outlook.LastSeen.Before(w.At.Truncate(time.Millisecond)):
		a = say(heard + " It does not fit the weights before, so it is not counted yet.")
	}
	a.Message.Buttons = undo(e)
	if s.Outlook.LastSeen.Before(w.At.Add(-time.Second)) {
		a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: fmt.Sprintf("afresh:%.2f:%s", float64(w.Gross), cyl.Name), Label: "It is right: begin anew"})
	}
	return a, nil
}

// keep stores an entry, perhaps in place of another.
func (d *Desk) keep(ctx context.Context, e store.Entry, instead *store.Entry) (store.Entry, error) {
	if instead != nil {
		return d.opt.House.Replace(ctx, instead.Seq, e)
	}
	return d.opt.House.Accept(ctx, e)
}

// heard says a weight back as it was understood.
func (d *Desk) heard(u entry.Understood, w record.Event, l line) string {
	text := "Noted: " + u.Echo(d.opt.Voice.System)
	if l.instead != nil {
		text = "Corrected: " + u.Echo(d.opt.Voice.System) + " instead of " + d.opt.Voice.Exact(l.instead.Gross)
	}
	if u.Net {
		text += ", so " + d.opt.Voice.Exact(w.Gross) + " on the scale"
	}
	if len(d.opt.Cylinders) > 1 {
		text += " for " + w.Cylinder
	}
	if l.at.Sub(w.At) >= time.Minute {
		text += ", weighed at " + d.opt.Voice.Moment(w.At, l.at)
	}
	return text + "."
}

// cylinder is the one of that name as it is now, which may be another one than the config's after a swap; without a name
// the one in use.
func (d *Desk) cylinder(name string, now time.Time) record.Cylinder {
	if name == "" {
		name = d.inUse(now)
	}
	for _, c := range d.opt.Cylinders {
		if c.Name != name {
			continue
		}
		if s, ok := d.opt.House.Situation(name, now); ok && s.House > 0 {
			c.Tare = s.GrossEmpty
		}
		return c
	}
	return d.opt.Cylinders[0]
}

// ask puts a doubtful weight back as one question. Each button carries its whole weighing.
func (d *Desk) ask(q entry.Doubtful, known entry.Context, l line) chat.Answer {
	a := say(q.Question)
	button := func(what, label string, c entry.Understood) {
		name := d.cylinder(c.Cylinder, known.Now).Name
		a.Message.Buttons = append(a.Message.Buttons, chat.Button{
			ID:    fmt.Sprintf("%s:%s:%d:%s:%s", what, massID(c), c.At.Unix(), strings.TrimPrefix(key(l), "said/"), name),
			Label: shorten(label, 80),
		})
	}
	for i, c := range q.Candidates {
		switch {
		case i == 4:
		case q.Reason == entry.Rise:
			button("refill", "Yes, filled", c)
			button("take", "Not filled, note "+c.Said(known), c)
		default:
			button("take", c.Said(known), c)
		}
	}
	leave := "No, leave it"
	if len(a.Message.Buttons) > 1 {
		leave = "Neither, leave it"
	}
	a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: "leave:", Label: leave})
	return a
}

// massID is a mass as a button carries it: grams to the hundredth, the unit it was typed in, and n if it is the gas alone.
func massID(u entry.Understood) string {
	s := fmt.Sprintf("%.2f/%d", float64(u.Gross), u.Unit)
	if u.Net {
		s += "n"
	}
	return s
}

// readMassID reads what massID wrote.
func readMassID(s string) (entry.Understood, bool) {
	typed, net := strings.CutSuffix(s, "n")
	mass, number, ok := strings.Cut(typed, "/")
	g, err1 := strconv.ParseFloat(mass, 64)
	n, err2 := strconv.Atoi(number)
	return entry.Understood{Gross: unit.Grams(g), Net: net, Unit: entry.Unit(n)}, ok && err1 == nil && err2 == nil
}

func shorten(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

// carried reads the weighing that a button of ask carries.
func (d *Desk) carried(ctx context.Context, p chat.Press, arg string) (u entry.Understood, l line, err error) {
	old := &Problem{"That button is from another time.", "Please type the weight again."}
	part := strings.SplitN(arg, ":", 4)
	if len(part) != 4 {
		return u, l, old
	}
	u, ok := readMassID(part[0])
	sec, err := strconv.ParseInt(part[1], 10, 64)
	if !ok || err != nil {
		return u, l, old
	}
	u.At, u.Cylinder = time.Unix(sec, 0).In(d.opt.Voice.Zone), part[3]
	l = line{id: part[2], at: p.At, by: p.By}
	if seq := instead("said/" + l.id); seq > 0 {
		l.id, _, _ = strings.Cut(l.id, "~")
		e, err := d.opt.House.Entry(ctx, seq)
		if err != nil {
			return u, l, err
		}
		l.instead = &e
		return u, l, nil
	}
	base, _, _ := strings.Cut(l.id, "~")
	noted, err := d.of(ctx, base)
	if err == nil && noted != nil { // the message was edited meanwhile, or somebody pressed before
		err = &Problem{"That message is noted already: " + d.opt.Voice.Exact(noted.Gross) + ".", "Say /undo, or “no, …”, if it is wrong."}
	}
	return u, l, err
}

// take stores the candidate that somebody pressed.
func (d *Desk) take(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	u, l, err := d.carried(ctx, p, arg)
	if err != nil {
		return chat.Answer{}, err
	}
	return replaced(d.note(ctx, u, l))
}
