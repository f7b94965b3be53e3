package command

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

// commands is every command there is, in the order of the help text.
var commands []command

func init() { // a variable's initialiser may not refer to itself through help
	commands = []command{
		{Spec: chat.Spec{Name: "gas", Summary: "How much gas is left, and until when"}, run: (*Desk).gas},
		{Spec: chat.Spec{Name: "weigh", Summary: "Enter what the scale says", Options: []chat.Option{
			{Name: "weight", Summary: "For example 24.6 kg, or 54 lb 3 oz this morning", Required: true}}}, run: (*Desk).weighCall},
		{Spec: chat.Spec{Name: "afresh", Summary: "Trust this weight and begin anew, if the figures have gone wrong", Options: []chat.Option{
			{Name: "weight", Summary: "What the scale says with everything on it, for example 24.6 kg", Required: true}}}, run: (*Desk).afreshCall},
		{Spec: chat.Spec{Name: "plan", Summary: "When to book the refill, who does it, what to carry"}, run: (*Desk).plan},
		{Spec: chat.Spec{Name: "booked", Summary: "The refill is booked", Options: []chat.Option{
			{Name: "day", Summary: "For example 2027-06-04, friday, tomorrow; “no” takes it back", Required: true, Suggest: true}}}, run: (*Desk).booked, suggest: suggestDays},
		{Spec: chat.Spec{Name: "filled", Summary: "The cylinder was filled or swapped", Options: []chat.Option{
			{Name: "net", Summary: "Gas on the receipt, for example 9.07 kg"},
			{Name: "price", Summary: "What was paid, for example 42.50 EUR"},
			{Name: "tare", Summary: "Stamped tare, if it is another cylinder"},
			{Name: "payer", Summary: "Who paid, if it was not you", Kind: chat.Person}}}, run: (*Desk).filled},
		{Spec: chat.Spec{Name: "ran-dry", Summary: "The cylinder no longer makes fizz"}, run: (*Desk).ranDry},
		{Spec: chat.Spec{Name: "made", Summary: "Log servings", Options: []chat.Option{
			{Name: "servings", Summary: "How many; 1 if left out", Kind: chat.Number},
			{Name: "who", Summary: "Whose they are, if not yours", Kind: chat.Person}}}, run: (*Desk).made},
		{Spec: chat.Spec{Name: "away", Summary: "Nobody draws until a day", Options: []chat.Option{
			{Name: "until", Summary: "For example 2027-08-21, sunday; “now” ends it", Required: true, Suggest: true},
			{Name: "who", Summary: "If only this person is away", Kind: chat.Person}}}, run: (*Desk).away, suggest: suggestDays},
		{Spec: chat.Spec{Name: "valve", Summary: "The cylinder valve was opened or shut", Options: []chat.Option{
			{Name: "state", Summary: "open or shut", Required: true, Choices: []chat.Choice{{Label: "open", Value: "open"}, {Label: "shut", Value: "closed"}}}}}, run: (*Desk).valve},
		{Spec: chat.Spec{Name: "chart", Summary: "A picture of the cylinder so far and to come"}, run: (*Desk).chart},
		{Spec: chat.Spec{Name: "cost", Summary: "What a litre costs, who owes what, when the outlay is earned back"}, household: true, run: (*Desk).cost},
		{Spec: chat.Spec{Name: "history", Summary: "The fillings so far"}, run: (*Desk).history},
		{Spec: chat.Spec{Name: "serving", Summary: "Find out by weighing how much gas a serving takes", Options: []chat.Option{
			{Name: "bottles", Summary: "Bottle before > after, for example 1012.4 > 1018.5 g; several with a comma between"},
			{Name: "platform", Summary: "Cylinder on its scale before > after, for example 21.34 > 21.29 kg"},
			{Name: "servings", Summary: "How many servings lie between the two", Kind: chat.Number},
			{Name: "litres", Summary: "Drink in one serving, for example 0.84", Kind: chat.Number},
			{Name: "water", Summary: "Temperature of the water, for example 5 C or 41 F"},
			{Name: "pressure", Summary: "What the regulator's gauge shows, for example 4 barg or 60 psig; without the g it is absolute"}}}, household: true, run: (*Desk).serving},
		{Spec: chat.Spec{Name: "calibrate", Summary: "Check the scale with known masses", Options: []chat.Option{
			{Name: "loads", Summary: "For example 0 kg: 84213; 10 kg: 297900 / 297905; 10 kg front left: 297880"},
			{Name: "step", Summary: "The scale's smallest step, for example 5 g"}}}, run: (*Desk).calibrate},
		{Spec: chat.Spec{Name: "use", Summary: "Another cylinder is in use now", Options: []chat.Option{
			{Name: "name", Summary: "The cylinder that takes over", Required: true},
			{Name: "instead", Summary: "The one whose place it takes; the one in use if left out"}}}, cylinders: []string{"name", "instead"}, run: (*Desk).use},
		{Spec: chat.Spec{Name: "entries", Summary: "What was entered lately"}, household: true, run: (*Desk).entries},
		{Spec: chat.Spec{Name: "undo", Summary: "Take back what you entered last"}, household: true, run: (*Desk).undoLast},
		{Spec: chat.Spec{Name: "help", Summary: "What can be said here, and how to stay safe"}, household: true, run: (*Desk).help},
	}
}

// buttons is what each button does, by what its id says before the colon; the rest of the id is its argument.
var buttons = map[string]func(d *Desk, ctx context.Context, p chat.Press, arg string) (chat.Answer, error){
	"take":    (*Desk).take,
	"refill":  (*Desk).refill,
	"again":   (*Desk).again,
	"away":    (*Desk).awayPressed,
	"dry":     (*Desk).dryPressed,
	"undo":    (*Desk).undoPressed,
	"afresh":  (*Desk).afreshPressed,
	"mine":    (*Desk).mine,
	"booked":  (*Desk).bookedForm,
	"nobook":  (*Desk).noBooking,
	"here":    (*Desk).hereForm,
	"fill":    (*Desk).fillPressed,
	"serve":   (*Desk).servingForm,
	"serving": (*Desk).adopt,
	"answer":  (*Desk).answered,
	"leave": func(*Desk, context.Context, chat.Press, string) (chat.Answer, error) {
		return replaced(say("Left out; nothing was noted."), nil)
	},
	"later":      simple(record.Later, "I'll ask again in two days."),
	"checked":    simple(record.Calibrated, "Noted: the scale is checked. I'll ask again in half a year."),
	"checklater": simple(record.CheckLater, "I'll ask again in two weeks."),
}

// simple is a button that stores an event of a cylinder.
func simple(kind record.Kind, reply string) func(*Desk, context.Context, chat.Press, string) (chat.Answer, error) {
	return func(d *Desk, ctx context.Context, p chat.Press, cylinder string) (chat.Answer, error) {
		_, err := d.tell(ctx, pressed(p), record.Event{Kind: kind, Cylinder: cylinder})
		return say(reply), err
	}
}

// replaced is an answer that replaces the question, unless there was an error.
func replaced(a chat.Answer, err error) (chat.Answer, error) {
	a.Replace = err == nil
	return a, err
}

func (d *Desk) gas(_ context.Context, c chat.Call) (chat.Answer, error) {
	s, err := d.situation(c.Options["cylinder"], c.At)
	if err != nil {
		return chat.Answer{}, err
	}
	if !s.Dry.IsZero() {
		return say(d.opt.Voice.Dry(s), "Say /filled when the refill is there, or type what the scale says."), nil
	}
	return say(d.opt.Voice.Lasts(s), d.opt.Voice.Reasons(s)...), nil
}

func (d *Desk) weighCall(ctx context.Context, c chat.Call) (chat.Answer, error) {
	return d.weigh(ctx, line{text: c.Options["weight"], cylinder: c.Options["cylinder"], id: c.ID, at: c.At, by: c.By, asked: true})
}

func (d *Desk) ranDry(ctx context.Context, c chat.Call) (chat.Answer, error) {
	return d.wentDry(ctx, called(c), c.Options["cylinder"])
}

// wentDry stores that a cylinder ran dry.
func (d *Desk) wentDry(ctx context.Context, x deed, cylinder string) (chat.Answer, error) {
	e, err := d.tell(ctx, x, record.Event{Cylinder: cylinder, Kind: record.RanDry})
	if err != nil {
		return chat.Answer{}, err
	}
	if e.Seq == 0 {
		return say("That is noted already."), nil
	}
	a := say("Noted: it ran dry.", "That is the best calibration there is: from here on the empty weight is known.", "Say /filled when the refill is there.")
	a.Message.Buttons = undo(e)
	return a, nil
}

func (d *Desk) valve(ctx context.Context, c chat.Call) (chat.Answer, error) {
	state := strings.ToLower(strings.TrimSpace(c.Options["state"]))
	if state == "shut" {
		state = "closed"
	}
	if state != "open" && state != "closed" {
		return chat.Answer{}, &Problem{fmt.Sprintf("“%s” is not a state of a valve.", state), "Say /valve open or /valve shut."}
	}
	return d.noted(ctx, called(c), record.Event{Cylinder: c.Options["cylinder"], Kind: record.Valve, Open: state == "open"},
		"Noted: the cylinder valve is "+map[bool]string{true: "open", false: "shut"}[state == "open"]+".")
}

func (d *Desk) chart(_ context.Context, c chat.Call) (chat.Answer, error) {
	s, err := d.situation(c.Options["cylinder"], c.At)
	if err != nil {
		return chat.Answer{}, err
	}
	if !s.Outlook.Known {
		return say(d.opt.Voice.Lasts(s)), nil
	}
	png, err := d.opt.Draw(s)
	if err != nil {
		return chat.Answer{}, err
	}
	a := say(d.opt.Voice.Lasts(s))
	a.Message.Files = []chat.File{{Name: "cylinder.png", Type: "image/png", Data: png, Alt: d.opt.Voice.Lasts(s)}}
	if d.opt.DrawUse == nil {
		return a, nil
	}
	if png, err = d.opt.DrawUse(s); err == nil && png != nil {
		a.Message.Files = append(a.Message.Files, chat.File{Name: "weeks.png", Type: "image/png", Data: png, Alt: "Gas used per week. " + d.opt.Voice.Weekly(s)})
	}
	return a, err
}

func (d *Desk) entries(ctx context.Context, c chat.Call) (chat.Answer, error) {
	recent, err := d.opt.House.Recent(ctx, "", 200)
	if err != nil {
		return chat.Answer{}, err
	}
	var lines []string
	for _, e := range recent {
		if e.Origin == "scale" || len(lines) == 10 {
			continue
		}
		line := fmt.Sprintf("%d: %s", e.Seq, d.describe(e, c.At))
		if e.Voided {
			line += " (undone)"
		}
		lines = append(lines, line)
	}
	if len(lines) == 0 {
		return say("Nobody has entered anything yet."), nil
	}
	a := say("Entered lately, newest first:", lines...)
	a.Message.Private = true
	for _, e := range recent {
		if e.Origin != "scale" && !e.Voided && len(a.Message.Buttons) < 5 {
			a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: fmt.Sprintf("undo:%d", e.Seq), Label: fmt.Sprintf("Undo %d", e.Seq)})
		}
	}
	return a, nil
}

// help lists the commands and the cautions.
func (d *Desk) help(_ context.Context, c chat.Call) (chat.Answer, error) {
	var lines []string
	if d.opt.FreeText {
		lines = append(lines, "Type what the scale says, for example “"+entry.Example(d.context(line{at: c.At, asked: true}))+"”, and it is noted. Or:")
	}
	for _, c := range d.Specs() {
		lines = append(lines, "/"+c.Name+" – "+c.Summary)
	}
	a := say("I watch the gas for you: how much is left, when to book the refill, and whether any leaks away.", append(lines, Cautions...)...)
	a.Message.Private = true
	return a, nil
}

// Cautions are the usual ones for a high-pressure CO2 cylinder in a room. Common practice, no source; local
// codes come first.
var Cautions = []string{
	"Staying safe: CO2 has no smell, is heavier than air and suffocates. A CO2 alarm low down near the cylinder is the safety device; this bot is not, a scale cannot see the air.",
	"Keep the cylinder upright and strapped to the wall, the valve shut when not in use. Never heat it, never leave it in a closed or hot car. Lift it with two people or a hand truck: one that falls and shears its valve flies like a rocket.",
	"Filling, fittings and regulators are for the supplier and licensed people; local codes come first.",
}

// suggestDays offers the next days.
func suggestDays(d *Desk, _ context.Context, c chat.Call, option string) []chat.Choice {
	typed := strings.ToLower(c.Options[option])
	var out []chat.Choice
	for i := 1; i <= 21; i++ {
		day := c.At.In(d.opt.Voice.Zone).AddDate(0, 0, i)
		label, value := d.opt.Voice.Day(day, c.At), day.Format(time.DateOnly)
		if strings.Contains(strings.ToLower(label), typed) || strings.HasPrefix(value, typed) {
			out = append(out, chat.Choice{Label: label, Value: value})
		}
	}
	return out
}
