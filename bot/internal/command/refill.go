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

func (d *Desk) plan(_ context.Context, c chat.Call) (chat.Answer, error) {
	s, err := d.situation(c.Options["cylinder"], c.At)
	if err != nil {
		return chat.Answer{}, err
	}
	head, body := d.opt.Voice.Plan(s)
	a := say(head, body...)
	if s.Spare {
		return a, nil
	}
	a.Message.Buttons = []chat.Button{{ID: "mine:" + s.Cylinder, Label: "I'll see to it"}, {ID: "booked:" + s.Cylinder, Label: "It's booked…"}}
	if !s.Booked.IsZero() {
		a.Message.Buttons = []chat.Button{{ID: "here:" + s.Cylinder, Label: "It's here…"}, {ID: "booked:" + s.Cylinder, Label: "Another day…"},
			{ID: "nobook:" + s.Cylinder, Label: "Couldn't get one"}}
	}
	return a, nil
}

// mine lets somebody take the refill on; of two the first one has it.
func (d *Desk) mine(ctx context.Context, p chat.Press, cylinder string) (chat.Answer, error) {
	s, err := d.situation(cylinder, p.At)
	if err != nil {
		return chat.Answer{}, err
	}
	switch {
	case s.Carrier == p.By.Name:
		return say("You have it already, " + p.By.Name + "."), nil
	case s.Carrier != "":
		return say(s.Carrier + " was first and sees to the refill."), nil
	}
	_, err = d.tell(ctx, pressed(p), record.Event{Kind: record.Mine, Cylinder: cylinder})
	return say(p.By.Name+" sees to the refill.", d.opt.Voice.Carry(s)), err
}

func (d *Desk) booked(ctx context.Context, c chat.Call) (chat.Answer, error) {
	return d.book(ctx, typed(c, "day"), c.Options["cylinder"])
}

// book stores that the refill is booked for a day, or no more.
func (d *Desk) book(ctx context.Context, x deed, cylinder string) (chat.Answer, error) {
	now := x.at
	if strings.EqualFold(strings.TrimSpace(x.text), "no") {
		return d.unbook(ctx, x, cylinder)
	}
	on, err := parseDay(x.text, now.In(d.opt.Voice.Zone))
	if err != nil {
		return chat.Answer{}, err
	}
	e, err := d.tell(ctx, x, record.Event{Cylinder: cylinder, Kind: record.Booked, Day: on})
	if err != nil {
		return chat.Answer{}, err
	}
	s, err := d.situation(e.Cylinder, now)
	if err != nil {
		return chat.Answer{}, err
	}
	until := "No more reminders until then."
	if on.After(now.AddDate(0, 0, 2)) {
		until = "A word the day before, nothing until then."
	}
	a := say(fmt.Sprintf("Noted: the refill is booked for %s. %s", d.opt.Voice.Day(on, now), until), d.opt.Voice.TooLate(s), d.closedOn(s, on))
	a.Message.Files = []chat.File{d.invitation(s)}
	a.Message.Buttons = undo(e)
	return a, nil
}

// closedOn says that the supplier seems to be closed on a day; "" when it is open.
func (d *Desk) closedOn(s notice.Situation, day time.Time) string {
	if d.opt.Closed == nil {
		return ""
	}
	if why := d.opt.Closed(day); why != "" {
		return fmt.Sprintf("By what the config says the supplier is closed that day (%s); worth a second look.", why)
	}
	return ""
}

// invitation is the calendar file of a booked refill.
func (d *Desk) invitation(s notice.Situation) chat.File {
	summary, notes := d.opt.Voice.Errand(s)
	if d.opt.Household != "" {
		summary += ", " + d.opt.Household
	}
	data := invitation.File(invitation.Refill{
		Occasion: s.Cylinder + "/" + s.Filled.UTC().Format(time.RFC3339), Revision: s.Revision, Day: s.Booked.In(d.opt.Voice.Zone), Now: s.Now,
		Summary: summary, Notes: strings.Join(notes, "\n"), Place: s.Supplier, Reminder: "The refill is booked for tomorrow.",
	})
	return chat.File{Name: "refill.ics", Type: invitation.MediaType, Data: data, Alt: "The booked refill for a calendar"}
}

// unbook stores that there is no refill booked, and says what that means.
func (d *Desk) unbook(ctx context.Context, x deed, cylinder string) (chat.Answer, error) {
	e, err := d.tell(ctx, x, record.Event{Cylinder: cylinder, Kind: record.Unbooked})
	if err != nil {
		return chat.Answer{}, err
	}
	s, err := d.situation(e.Cylinder, x.at)
	if err != nil {
		return chat.Answer{}, err
	}
	head, body := d.opt.Voice.Plan(s)
	a := say("Noted: the refill is not booked. "+head, body...)
	a.Message.Buttons = undo(e)
	return a, nil
}

// noBooking is the button “Couldn't get one”.
func (d *Desk) noBooking(ctx context.Context, p chat.Press, cylinder string) (chat.Answer, error) {
	s, err := d.situation(cylinder, p.At)
	if err != nil {
		return chat.Answer{}, err
	}
	if s.Booked.IsZero() {
		return say("No refill is booked any more: that was said already, or it came."), nil
	}
	x := pressed(p)
	x.text = "no"
	return replaced(d.unbook(ctx, x, cylinder))
}

// bookedForm asks for the day, then stores it. Who is second to book is told, and may still change the day.
func (d *Desk) bookedForm(ctx context.Context, p chat.Press, cylinder string) (chat.Answer, error) {
	s, err := d.situation(cylinder, p.At)
	if err != nil {
		return chat.Answer{}, err
	}
	if p.Fields == nil {
		return chat.Answer{Form: &chat.Form{ID: p.Button, Title: "The refill is booked", Fields: []chat.Field{
			{Name: "day", Label: "For which day?", Example: "2027-06-04, friday, tomorrow", Required: true}}}}, nil
	}
	if !s.Booked.IsZero() && s.BookedBy != "" && s.BookedBy != p.By.Name && !s.Booked.Before(p.At.AddDate(0, 0, -1)) {
		return say(fmt.Sprintf("%s was first: it is booked for %s.", s.BookedBy, d.opt.Voice.Day(s.Booked, p.At)),
			"If that is not right any more, say /booked and the day."), nil
	}
	x := pressed(p)
	x.text = p.Fields["day"]
	return d.book(ctx, x, cylinder)
}
