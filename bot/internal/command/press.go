package command

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
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
	if do, known := buttons[what]; known {
		return do(d, ctx, p, arg)
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
	_, err = d.tell(ctx, pressed(p), record.Event{Kind: record.Away, Cylinder: cylinder, Until: until})
	return replaced(say("Noted: nobody draws until "+d.opt.Voice.Day(until, p.At)+"."), err)
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
		return replaced(say(fmt.Sprintf("%s was first and said: %s.", first.By, saidBefore[first.Cause]), "If that is wrong, /entries can undo it."), nil)
	}
	_, err := d.tell(ctx, pressed(p), ev)
	return replaced(say(fmt.Sprintf(said.reply, p.By.Name)), err)
}

// stale is the answer to a button that cannot be read any more.
func stale() *Problem {
	return &Problem{"That button is from another time.", "Say /help for what there is now."}
}

// causes are what the buttons under an alert mean.
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
func (d *Desk) answeredBefore(ev record.Event, now time.Time) (record.Event, bool) {
	s, ok := d.opt.House.Situation(ev.Cylinder, now)
	if !ok || ev.About.IsZero() {
		return record.Event{}, false
	}
	for i := len(s.Answers) - 1; i >= 0; i-- {
		a := s.Answers[i]
		if a.About.Equal(ev.About) {
			mended := a.Cause == record.Lost && ev.Cause != record.Lost
			return a, !mended
		}
	}
	return record.Event{}, false
}
