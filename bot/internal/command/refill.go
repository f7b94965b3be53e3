package command

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/invitation"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit/record"
)

func (h *Handler) plan(_ context.Context, _ request, s notice.Situation) (chat.Answer, error) {
	head, body := h.opt.Voice.Plan(s)
	a := say(head, body...)
	switch {
	case s.Spare:
		return a, nil
	case s.Booked.IsZero():
		return withButtons(a, button("mine", s.Cylinder, "I'll see to it"), button("booked", s.Cylinder, "It's booked…")), nil
	}
	return withButtons(a, button("here", s.Cylinder, "It's here…"), button("booked", s.Cylinder, "Another day…"), button("nobook", s.Cylinder, "Couldn't get one")), nil
}

// takeOnRefill lets somebody take the refill on; of two the first one has it.
func (h *Handler) takeOnRefill(ctx context.Context, r request, s notice.Situation) (chat.Answer, error) {
	switch {
	case s.Carrier == r.by.Name:
		return say("You have it already, " + r.by.Name + "."), nil
	case s.Carrier != "":
		return say(s.Carrier + " was first and sees to the refill."), nil
	}
	_, err := h.storeEvent(ctx, r, record.Event{Kind: record.Mine, Cylinder: r.cylinder})
	return say(r.by.Name+" sees to the refill.", h.opt.Voice.Carry(s)), err
}

// booked stores that the refill is booked for a day, or no more.
func (h *Handler) booked(ctx context.Context, r request) (chat.Answer, error) {
	r.text = r.options["day"]
	if strings.EqualFold(strings.TrimSpace(r.text), "no") {
		return h.unbook(ctx, r)
	}
	on, err := parseDay(r.text, r.at.In(h.opt.Voice.Zone))
	if err != nil {
		return chat.Answer{}, err
	}
	return h.notedAs(ctx, r, record.Event{Cylinder: r.cylinder, Kind: record.Booked, Day: on}, func(s notice.Situation) chat.Answer {
		until := "No more reminders until then."
		if on.After(r.at.AddDate(0, 0, 2)) {
			until = "A word the day before, nothing until then."
		}
		a := say(fmt.Sprintf("Noted: the refill is booked for %s. %s", h.opt.Voice.Day(on, r.at), until), h.opt.Voice.TooLate(s), h.closedOn(on))
		a.Message.Files = []chat.File{h.invitation(s)}
		return a
	})
}

// closedOn says that the supplier seems to be closed on a day; "" when it is open.
func (h *Handler) closedOn(day time.Time) string {
	if why := h.opt.Closed(day); why != "" {
		return fmt.Sprintf("By what the config says the supplier is closed that day (%s); worth a second look.", why)
	}
	return ""
}

// invitation is the calendar file of a booked refill.
func (h *Handler) invitation(s notice.Situation) chat.File {
	summary, notes := h.opt.Voice.Errand(s)
	if h.opt.Household != "" {
		summary += ", " + h.opt.Household
	}
	data := invitation.File(invitation.Refill{
		Occasion: s.Cylinder + "/" + s.Filled.UTC().Format(time.RFC3339), Revision: s.Revision, Day: s.Booked.In(h.opt.Voice.Zone), Now: s.Now,
		Summary: summary, Notes: strings.Join(notes, "\n"), Place: s.Supplier, Reminder: "The refill is booked for tomorrow.",
	})
	return chat.File{Name: "refill.ics", Type: invitation.MediaType, Data: data, Alt: "The booked refill for a calendar"}
}

// unbook stores that there is no refill booked, and says what that means.
func (h *Handler) unbook(ctx context.Context, r request) (chat.Answer, error) {
	return h.notedAs(ctx, r, record.Event{Cylinder: r.cylinder, Kind: record.Unbooked}, func(s notice.Situation) chat.Answer {
		head, body := h.opt.Voice.Plan(s)
		return say("Noted: the refill is not booked. "+head, body...)
	})
}

// notBooked is the button “Couldn't get one”.
func (h *Handler) notBooked(ctx context.Context, r request, s notice.Situation) (chat.Answer, error) {
	if s.Booked.IsZero() {
		return say("No refill is booked any more: that was said already, or it came."), nil
	}
	r.text = "no"
	return removingButtons((*Handler).unbook)(h, ctx, r)
}

// bookedForm asks for the day, then stores it. Who is second to book is told, and may still change the day.
func (h *Handler) bookedForm(ctx context.Context, r request, s notice.Situation) (chat.Answer, error) {
	if r.options == nil {
		return chat.Answer{Form: &chat.Form{ID: r.button, Title: "The refill is booked", Fields: []chat.Field{
			{Name: "day", Label: "For which day?", Example: "2027-06-04, friday, tomorrow", Required: true}}}}, nil
	}
	if !s.Booked.IsZero() && s.BookedBy != "" && s.BookedBy != r.by.Name && !s.Booked.Before(r.at.AddDate(0, 0, -1)) {
		return say(fmt.Sprintf("%s was first: it is booked for %s.", s.BookedBy, h.opt.Voice.Day(s.Booked, r.at)),
			"If that is not right any more, say /booked and the day."), nil
	}
	return h.booked(ctx, r)
}
