package command

import (
	"context"
	"strconv"
	"strings"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/forecast"
)

// Press acts on a button. Its id is "what:argument".
func (d *Desk) Press(ctx context.Context, p chat.Press) chat.Answer {
	what, arg, _ := strings.Cut(p.Button, ":")
	a, err := d.press(ctx, p, what, arg)
	return d.answer(a, err)
}

func (d *Desk) press(ctx context.Context, p chat.Press, what, arg string) (chat.Answer, error) {
	switch what {
	case "take":
		return d.take(ctx, p, arg)
	case "leave":
		a := say("Left out; nothing was noted.")
		a.Replace = true
		return a, nil
	case "undo":
		return d.undoPressed(ctx, p, arg)
	case "mine":
		return d.simple(ctx, p, household.Event{Kind: household.Mine, Cylinder: arg}, p.By.Name+" sees to the refill.")
	case "later":
		return d.simple(ctx, p, household.Event{Kind: household.Later, Cylinder: arg}, "I'll ask again in two days.")
	case "booked":
		return d.bookedForm(ctx, p, arg)
	case "answer":
		return d.answered(ctx, p, arg)
	}
	return chat.Answer{}, &Problem{"That button is from another time.", "Say /help for what there is now."}
}

func (d *Desk) undoPressed(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	seq, err := strconv.ParseInt(arg, 10, 64)
	if err != nil {
		return chat.Answer{}, &Problem{"That button is from another time.", "/entries lists what can be undone."}
	}
	a, err := d.strike(ctx, seq, p.At)
	a.Replace = true
	return a, err
}

// simple stores an event that a button stands for.
func (d *Desk) simple(ctx context.Context, p chat.Press, ev household.Event, reply string) (chat.Answer, error) {
	ev.At = p.At
	if _, err := d.tell(ctx, ev, p.ID, p.By, ""); err != nil {
		return chat.Answer{}, err
	}
	return say(reply), nil
}

// bookedForm asks for the day, then stores it.
func (d *Desk) bookedForm(ctx context.Context, p chat.Press, cylinder string) (chat.Answer, error) {
	if p.Fields == nil {
		return chat.Answer{Form: &chat.Form{ID: p.Button, Title: "The refill is booked", Fields: []chat.Field{
			{Name: "day", Label: "For which day?", Example: "2027-06-04, friday, tomorrow", Required: true}}}}, nil
	}
	return d.book(ctx, cylinder, p.Fields["day"], p.ID, p.At, p.By)
}

// answered takes the household's word for what a loss or a step was.
func (d *Desk) answered(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	word, cylinder, _ := strings.Cut(arg, ":")
	said := map[string]struct {
		cause forecast.Cause
		reply string
	}{
		"used":  {forecast.WeUsedIt, "Thank you, " + p.By.Name + ": it counts as use, and I'll be slower to worry about such amounts."},
		"shut":  {forecast.Repaired, "Thank you, " + p.By.Name + ". It counts as lost, not as use. Air the room well before anyone stays in it."},
		"leak":  {forecast.GasLost, "Thank you, " + p.By.Name + ". Until it is mended: valve shut when nobody carbonates, and air the room. I'll say when the loss ends."},
		"moved": {forecast.Moved, "Thank you, " + p.By.Name + ": the gas figures leave the step out."},
	}[word]
	if said.cause == forecast.Unknown {
		return chat.Answer{}, &Problem{"That button is from another time.", "Say /help for what there is now."}
	}
	a, err := d.simple(ctx, p, household.Event{Kind: household.Answer, Cylinder: cylinder, Cause: said.cause}, said.reply)
	a.Replace = true
	return a, err
}
