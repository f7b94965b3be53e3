package command

import (
	"context"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

// question is what somebody was asked last, for as long as a typed answer can only be meant for it.
type question struct {
	at      time.Time
	buttons []chat.Button // the last leaves it
	plain   bool          // the first is what "yes" means
}

// awaits is how long a typed answer is waited for; the buttons work for ever.
const awaits = 5 * time.Minute

// remember keeps what is asked, so that it can be answered in words, and forgets what was asked before.
func (d *Desk) remember(by chat.Member, at time.Time, a chat.Answer) chat.Answer {
	delete(d.asked, by.ID)
	if m := a.Message; m != nil && len(m.Buttons) > 1 && strings.HasPrefix(m.Buttons[len(m.Buttons)-1].ID, "leave:") {
		d.asked[by.ID] = question{at, m.Buttons, !strings.Contains(strings.ToLower(m.Headline), "which") && !strings.Contains(m.Headline, " or ")}
	}
	return a
}

// chosen is the button that a typed line means: "yes", "no", "lb", "the second".
func (d *Desk) chosen(s chat.Said) (button string, ok bool) {
	q, asked := d.asked[s.By.ID]
	if !asked || s.At.Sub(q.at) > awaits {
		return "", false
	}
	last := len(q.buttons) - 1
	var labels []string
	for _, b := range q.buttons[:last] {
		labels = append(labels, b.Label)
	}
	i, ok := entry.Choose(s.Text, labels, q.plain)
	if !ok {
		return "", false
	}
	if i < 0 {
		i = last
	}
	return q.buttons[i].ID, true
}

// askState asks about talk that tells how the cylinder stands.
func (d *Desk) askState(r entry.Reported, l line) chat.Answer {
	name := d.cylinder(r.Cylinder, l.at).Name
	of := ""
	if len(d.opt.Cylinders) > 1 {
		of = " " + name
	}
	a := say("Was the cylinder" + of + " filled?")
	a.Message.Buttons = []chat.Button{{ID: fillID(record.Event{Cylinder: name}, l.id), Label: "Yes, filled"}, {ID: "here:" + name, Label: "Yes, with the receipt…"}}
	if r.State == entry.Empty {
		a = say("Has the cylinder" + of + " run dry?")
		a.Message.Buttons = []chat.Button{{ID: "dry:" + l.id + ":" + name, Label: "Yes, it ran dry"}}
	}
	a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: "leave:", Label: "No, leave it"})
	return a
}

// dryPressed stores that a cylinder ran dry, as was asked.
func (d *Desk) dryPressed(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	id, name, ok := strings.Cut(arg, ":")
	if !ok {
		return chat.Answer{}, stale()
	}
	return replaced(d.wentDry(ctx, deed{id: id, at: p.At, by: p.By}, name))
}

// refill stores a filling and the weight that showed it.
func (d *Desk) refill(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	u, l, err := d.carried(ctx, p, arg)
	if err != nil {
		return chat.Answer{}, err
	}
	ev := record.Event{Kind: record.Filled, At: u.At, Cylinder: u.Cylinder}
	if p.At.Sub(u.At) < time.Minute {
		ev.At = p.At
	}
	s, err := d.situation(u.Cylinder, p.At)
	if err != nil {
		return chat.Answer{}, err
	}
	var fill store.Entry
	if !household.Completes(s.Fill, ev) || s.Fill.Seen > 0 { // else it was told, and this is its weight
		if fill, err = d.tell(ctx, deed{id: l.id, at: p.At, by: p.By}, ev); err != nil {
			return chat.Answer{}, err
		}
	}
	a, err := d.note(ctx, u, l)
	if err != nil {
		return chat.Answer{}, err
	}
	a.Replace = true
	for _, b := range undo(fill) {
		a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: b.ID, Label: "Undo the filling"})
	}
	if s, err = d.situation(u.Cylinder, p.At); err == nil && s.Fill.Seen > 0 {
		a.Message.Body = append([]string{"Filled: about " + d.opt.Voice.Mass(s.Fill.Seen) + " of gas is in it."}, a.Message.Body...)
	}
	return a, err
}
