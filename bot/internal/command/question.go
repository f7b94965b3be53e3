package command

import (
	"context"
	"slices"
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

// answerWithin is how long a typed answer is waited for; the buttons work for ever.
const answerWithin = 5 * time.Minute

// rememberQuestion keeps what is asked, so that it can be answered in words, and forgets what was asked before.
func (h *Handler) rememberQuestion(r request, a chat.Answer) {
	delete(h.asked, r.by.ID)
	if m := a.Message; m != nil && len(m.Buttons) > 1 && strings.HasPrefix(m.Buttons[len(m.Buttons)-1].ID, leaveButton("").ID) {
		h.asked[r.by.ID] = question{r.at, m.Buttons, !strings.Contains(strings.ToLower(m.Headline), "which") && !strings.Contains(m.Headline, " or ")}
	}
}

// chosenButton is the button that a typed line means: "yes", "no", "lb", "the second".
func (h *Handler) chosenButton(r request) (button string, ok bool) {
	q, asked := h.asked[r.by.ID]
	if !asked || r.at.Sub(q.at) > answerWithin {
		return "", false
	}
	last := len(q.buttons) - 1
	var labels []string
	for _, b := range q.buttons[:last] {
		labels = append(labels, b.Label)
	}
	i, ok := entry.Choose(r.text, labels, q.plain)
	if !ok {
		return "", false
	}
	if i < 0 {
		i = last
	}
	return q.buttons[i].ID, true
}

// askState asks about talk that tells how the cylinder stands.
func (h *Handler) askState(reported entry.Reported, l line) chat.Answer {
	name := h.cylinder(reported.Cylinder, l.at).Name
	of := ""
	if len(h.opt.Cylinders) > 1 {
		of = " " + name
	}
	if reported.State == entry.Empty {
		return withButtons(say("Has the cylinder"+of+" run dry?"), button("dry", l.id+":"+name, "Yes, it ran dry"), leaveButton("No, leave it"))
	}
	return withButtons(say("Was the cylinder"+of+" filled?"),
		fillButton(record.Event{Cylinder: name}, l.id, "Yes, filled"), button("here", name, "Yes, with the receipt…"), leaveButton("No, leave it"))
}

// refillSeen stores a filling and the weight that showed it.
func (h *Handler) refillSeen(ctx context.Context, r request) (chat.Answer, error) {
	u, l, err := h.readCandidate(ctx, r)
	if err != nil {
		return chat.Answer{}, err
	}
	ev := record.Event{Kind: record.Filled, At: u.At, Cylinder: u.Cylinder}
	if r.at.Sub(u.At) < time.Minute {
		ev.At = r.at
	}
	s, err := h.situation(u.Cylinder, r.at)
	if err != nil {
		return chat.Answer{}, err
	}
	var fill store.Entry
	if !household.Completes(s.Fill, ev) || s.Fill.Seen > 0 { // else it was told, and this is its weight
		if fill, err = h.storeEvent(ctx, l.request, ev); err != nil {
			return chat.Answer{}, err
		}
	}
	a, err := h.noteWeight(ctx, u, l)
	if err != nil {
		return chat.Answer{}, err
	}
	if fill.Seq != 0 {
		a = withButtons(a, undo(fill, "Undo the filling"))
	}
	if s, err = h.situation(u.Cylinder, r.at); err == nil && s.Fill.Seen > 0 {
		a.Message.Body = slices.Insert(a.Message.Body, 0, "Filled: about "+h.opt.Voice.Mass(s.Fill.Seen)+" of gas is in it.")
	}
	return a, err
}
