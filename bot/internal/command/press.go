package command

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit/record"
)

// Press acts on a button. Its id is "what:argument".
func (d *Desk) Press(ctx context.Context, p chat.Press) chat.Answer {
	d.mu.Lock()
	defer d.mu.Unlock()
	p.By = d.called(p.By)
	what, arg, _ := strings.Cut(p.Button, ":")
	a, err := d.press(ctx, p, what, arg)
	return d.remember(p.By, p.At, d.answer(a, err))
}

func (d *Desk) press(ctx context.Context, p chat.Press, what, arg string) (chat.Answer, error) {
	switch what {
	case "take":
		return d.take(ctx, p, arg)
	case "refill":
		return d.refill(ctx, p, arg)
	case "again":
		return d.again(ctx, p, arg)
	case "away":
		return d.awayPressed(ctx, p, arg)
	case "dry":
		return d.dryPressed(ctx, p, arg)
	case "leave":
		a := say("Left out; nothing was noted.")
		a.Replace = true
		return a, nil
	case "undo":
		return d.undoPressed(ctx, p, arg)
	case "afresh":
		return d.afreshPressed(ctx, p, arg)
	case "mine":
		return d.mine(ctx, p, arg)
	case "later":
		return d.simple(ctx, p, record.Event{Kind: record.Later, Cylinder: arg}, "I'll ask again in two days.")
	case "booked":
		return d.bookedForm(ctx, p, arg)
	case "nobook":
		return d.noBooking(ctx, p, arg)
	case "here":
		return d.hereForm(ctx, p, arg)
	case "fill":
		return d.fillPressed(ctx, p, arg)
	case "serve":
		return d.servingForm(ctx, p)
	case "serving":
		return d.adopt(ctx, p, arg)
	case "checked":
		return d.simple(ctx, p, record.Event{Kind: record.Calibrated, Cylinder: arg}, "Noted: the scale is checked. I'll ask again in half a year.")
	case "checklater":
		return d.simple(ctx, p, record.Event{Kind: record.CheckLater, Cylinder: arg}, "I'll ask again in two weeks.")
	case "answer":
		return d.answered(ctx, p, arg)
	}
	return chat.Answer{}, stale()
}

// longAway is how long nobody may draw without a question: a mistyped year stops every reminder. Longer than most holidays; common practice,
// no source.
const longAway = 90 * 24 * time.Hour

// doubtAway asks back an absence that is unusually long.
func (d *Desk) doubtAway(until time.Time, cylinder string, c chat.Call) chat.Answer {
	a := say(fmt.Sprintf("Will nobody draw until %s? Until then I remind nobody.", d.opt.Voice.Day(until, c.At)))
	a.Message.Buttons = []chat.Button{{ID: fmt.Sprintf("away:%d:%s", until.Unix(), cylinder), Label: "Yes, until " + d.opt.Voice.Day(until, c.At)}, {ID: "leave:", Label: "No, leave it"}}
	return a
}

// awayPressed stores an absence that was asked back.
func (d *Desk) awayPressed(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	sec, cylinder, _ := strings.Cut(arg, ":")
	n, err := strconv.ParseInt(sec, 10, 64)
	if err != nil {
		return chat.Answer{}, stale()
	}
	until := time.Unix(n, 0).In(d.opt.Voice.Zone)
	a, err := d.simple(ctx, p, record.Event{Kind: record.Away, Cylinder: cylinder, Until: until}, "Noted: nobody draws until "+d.opt.Voice.Day(until, p.At)+".")
	a.Replace = err == nil
	return a, err
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
func (d *Desk) simple(ctx context.Context, p chat.Press, ev record.Event, reply string) (chat.Answer, error) {
	ev.At = p.At
	if _, err := d.tell(ctx, ev, p.ID, p.By, ""); err != nil {
		return chat.Answer{}, err
	}
	return say(reply), nil
}

// answered takes the household's word for what a loss or a step was. Of two people the first one counts.
func (d *Desk) answered(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	word, rest, _ := strings.Cut(arg, ":")
	said, known := causes[word]
	if !known {
		return chat.Answer{}, stale()
	}
	ev := record.Event{Kind: record.Answer, Cylinder: rest, Cause: said.cause}
	if sec, cylinder, ok := strings.Cut(rest, ":"); ok {
		if n, err := strconv.ParseInt(sec, 10, 64); err == nil {
			ev.About, ev.Cylinder = time.Unix(n, 0).UTC(), cylinder
		}
	}
	if first, ok := d.answeredBefore(ev, p.At); ok {
		a := say(fmt.Sprintf("%s was first and said: %s.", first.By, saidBefore[first.Cause]), "If that is wrong, /entries can undo it.")
		a.Replace = true
		return a, nil
	}
	a, err := d.simple(ctx, p, ev, fmt.Sprintf(said.reply, p.By.Name))
	a.Replace = err == nil
	return a, err
}

// stale is the answer to a button that cannot be read any more.
func stale() *Problem {
	return &Problem{"That button is from another time.", "Say /help for what there is now."}
}

// causes are what the buttons under an alert stand for.
var causes = map[string]struct {
	cause record.Cause
	reply string
}{
	"used":  {record.Used, "Thank you, %s: it counts as use, and I'll be slower to worry about such amounts."},
	"shut":  {record.Repaired, "Thank you, %s. It counts as lost, not as use. Air the room well before anyone stays in it."},
	"leak":  {record.Lost, "Thank you, %s. Until it is mended: valve shut when nobody carbonates, and air the room. I'll say when the loss ends."},
	"moved": {record.Moved, "Thank you, %s: the gas figures leave the step out."},
}

// saidBefore tells an answer again.
var saidBefore = map[record.Cause]string{
	record.Used: "that was us", record.Repaired: "a valve was open, it is shut", record.Lost: "it leaks", record.Moved: "the scale was moved",
}

// answeredBefore finds who answered the same thing already. The same person may add that what leaked is mended.
func (d *Desk) answeredBefore(ev record.Event, now time.Time) (notice.Answered, bool) {
	s, ok := d.opt.House.Situation(ev.Cylinder, now)
	if !ok || ev.About.IsZero() {
		return notice.Answered{}, false
	}
	for i := len(s.Answers) - 1; i >= 0; i-- {
		a := s.Answers[i]
		if a.About.Equal(ev.About) {
			mended := a.Cause == record.Lost && ev.Cause != record.Lost
			return a, !mended
		}
	}
	return notice.Answered{}, false
}
