package command

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/live"
	"tarebell/forecast/unit"
	"tarebell/sources"
	"tarebell/sources/entry"
)

// Say reads a line typed in the channel: a weight is stored, a doubtful one asked back, talk left alone.
func (d *Desk) Say(ctx context.Context, s chat.Said) chat.Answer {
	d.mu.Lock()
	defer d.mu.Unlock()
	s.By = d.called(s.By)
	a, err := d.weigh(ctx, s.Text, "", s.ID, s.At, s.By, false)
	return d.answer(a, err)
}

// weigh reads text as a weight. asked: it was given as one, so it is answered in any case.
func (d *Desk) weigh(ctx context.Context, text, cylinder, id string, at time.Time, by chat.Member, asked bool) (chat.Answer, error) {
	known := d.context(cylinder, at, asked)
	switch r := entry.Parse(text, known).(type) {
	case entry.Understood:
		return d.note(ctx, r, id, at, by, text)
	case entry.Doubtful:
		if len(r.Candidates) == 0 {
			return chat.Answer{}, &Problem{Said: r.Question}
		}
		return d.ask(r, known, id), nil
	}
	return chat.Answer{}, nil
}

// context is what is known when somebody types.
func (d *Desk) context(cylinder string, at time.Time, asked bool) entry.Context {
	c := entry.Context{Now: at.In(d.opt.Voice.Zone), Units: d.units(), Asked: asked}
	for _, cyl := range d.opt.Cylinders {
		if cylinder != "" && cyl.Name != cylinder {
			continue
		}
		known := entry.Cylinder{Name: cyl.Name, Empty: cyl.Empty, Full: cyl.Full}
		if s, ok := d.opt.House.Situation(cyl.Name, at); ok {
			if s.Spare && cylinder == "" {
				continue
			}
			known.Last, known.LastAt = s.LastGross, s.Outlook.LastSeen
			known.Empty, known.Full = s.House, s.House+cyl.Net
		}
		c.Cylinders = append(c.Cylinders, known)
	}
	return c
}

// units is the system that bare numbers are in.
func (d *Desk) units() entry.System {
	if d.opt.Voice.US {
		return entry.US
	}
	return entry.Metric
}

// note stores a weight and says what was understood and what it means.
func (d *Desk) note(ctx context.Context, u entry.Understood, id string, at time.Time, by chat.Member, text string) (chat.Answer, error) {
	cyl := d.cylinder(u.Cylinder, at)
	w := u.Weighing()
	w.Item, w.Key, w.By, w.Received = cyl.Name, "said/"+id, by.ID, at
	if w.Net {
		w.Gross, w.Net = w.Gross+cyl.Empty, false
	}
	if at.Sub(w.At) < time.Minute {
		w.At = at
	}
	e, err := d.opt.House.Accept(ctx, live.FromWeighing(w, by.Name, text))
	if err != nil {
		return chat.Answer{}, err
	}
	if e.Seq == 0 {
		return say("That weight is noted already."), nil
	}
	s, err := d.situation(cyl.Name, at)
	if err != nil {
		return chat.Answer{}, err
	}
	a := say(d.heard(u, w, at)+" "+d.opt.Voice.Lasts(s), d.opt.Voice.Spread(s))
	if s.Outlook.LastSeen.Before(w.At.Add(-time.Second)) {
		a = say(d.heard(u, w, at) + " It does not fit the weights before, so it is not counted yet.")
	}
	a.Message.Buttons = undo(e)
	if s.Outlook.LastSeen.Before(w.At.Add(-time.Second)) {
		a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: fmt.Sprintf("afresh:%.2f:%s", float64(w.Gross), cyl.Name), Label: "It is right: begin anew"})
	}
	return a, nil
}

// heard says a weight back as it was understood.
func (d *Desk) heard(u entry.Understood, w sources.Weighing, now time.Time) string {
	text := "Noted: " + u.Echo(d.units())
	if u.Net {
		text += ", so " + d.opt.Voice.Exact(w.Gross) + " on the scale"
	}
	if len(d.opt.Cylinders) > 1 {
		text += " for " + w.Item
	}
	if now.Sub(w.At) >= time.Minute {
		text += ", weighed at " + d.opt.Voice.Moment(w.At, now)
	}
	return text + "."
}

// cylinder is the one of that name as it is now, which may be another one than the config's after a swap; without a name
// the one in use.
func (d *Desk) cylinder(name string, now time.Time) Cylinder {
	if name == "" {
		name = d.inUse(now)
	}
	for _, c := range d.opt.Cylinders {
		if c.Name != name {
			continue
		}
		if s, ok := d.opt.House.Situation(name, now); ok && s.House > 0 {
			c.Tare, c.Empty, c.Full = s.GrossEmpty, s.House, s.House+c.Net
		}
		return c
	}
	return d.opt.Cylinders[0]
}

// ask puts a doubtful weight back as one question. Each button carries its whole weighing.
func (d *Desk) ask(q entry.Doubtful, known entry.Context, id string) chat.Answer {
	a := say(q.Question)
	for i, c := range q.Candidates {
		if i == 4 {
			break
		}
		a.Message.Buttons = append(a.Message.Buttons, chat.Button{
			ID:    fmt.Sprintf("take:%s:%d:%s:%s", massID(c), c.At.Unix(), id, d.cylinder(c.Cylinder, known.Now).Name),
			Label: shorten(c.Said(known), 80),
		})
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

// take stores the candidate that somebody pressed.
func (d *Desk) take(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	part := strings.SplitN(arg, ":", 4)
	old := &Problem{"That button is from another time.", "Please type the weight again."}
	if len(part) != 4 {
		return chat.Answer{}, old
	}
	u, ok := readMassID(part[0])
	sec, err := strconv.ParseInt(part[1], 10, 64)
	if !ok || err != nil {
		return chat.Answer{}, old
	}
	u.At, u.Cylinder = time.Unix(sec, 0).In(d.opt.Voice.Zone), part[3]
	a, err := d.note(ctx, u, part[2], p.At, p.By, "")
	a.Replace = true
	return a, err
}
