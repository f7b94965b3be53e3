package command

import (
	"context"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit/record"
)

// commands is every command there is, in the order of the help text.
var commands []command

func init() { // a variable's initialiser may not refer to itself through help
	commands = []command{
		{Spec: chat.Spec{Name: "gas", Summary: "How much gas is left, and until when"}, run: withSituation((*Handler).gas)},
		{Spec: chat.Spec{Name: "weigh", Summary: "Enter what the scale says", Options: []chat.Option{
			{Name: "weight", Summary: "For example 24.6 kg, or 54 lb 3 oz this morning", Required: true}}}, run: (*Handler).weighCalled},
		{Spec: chat.Spec{Name: "afresh", Summary: "Trust this weight and begin anew, if the figures have gone wrong", Options: []chat.Option{
			{Name: "weight", Summary: "What the scale says with everything on it, for example 24.6 kg", Required: true}}}, run: (*Handler).afreshCalled},
		{Spec: chat.Spec{Name: "plan", Summary: "When to book the refill, who does it, what to carry"}, run: withSituation((*Handler).plan)},
		{Spec: chat.Spec{Name: "booked", Summary: "The refill is booked", Options: []chat.Option{
			{Name: "day", Summary: "For example 2027-06-04, friday, tomorrow; “no” takes it back", Required: true, Suggest: true}}}, run: (*Handler).booked, suggest: suggestDays},
		{Spec: chat.Spec{Name: "filled", Summary: "The cylinder was filled or swapped", Options: []chat.Option{
			{Name: "net", Summary: "Gas on the receipt, for example 9.07 kg"},
			{Name: "price", Summary: "What was paid, for example 42.50 EUR"},
			{Name: "tare", Summary: "Stamped tare, if it is another cylinder"},
			{Name: "payer", Summary: "Who paid, if it was not you", Kind: chat.Person}}}, run: withSituation((*Handler).filled)},
		{Spec: chat.Spec{Name: "ran-dry", Summary: "The cylinder no longer makes fizz"}, run: (*Handler).ranDry},
		{Spec: chat.Spec{Name: "made", Summary: "Log servings", Options: []chat.Option{
			{Name: "servings", Summary: "How many; 1 if left out", Kind: chat.Number},
			{Name: "who", Summary: "Whose they are, if not yours", Kind: chat.Person}}}, run: (*Handler).made},
		{Spec: chat.Spec{Name: "away", Summary: "Nobody draws until a day", Options: []chat.Option{
			{Name: "until", Summary: "For example 2027-08-21, sunday; “now” ends it", Required: true, Suggest: true},
			{Name: "who", Summary: "If only this person is away", Kind: chat.Person}}}, run: (*Handler).away, suggest: suggestDays},
		{Spec: chat.Spec{Name: "valve", Summary: "The cylinder valve was opened or shut", Options: []chat.Option{
			{Name: "state", Summary: "open or shut", Required: true, Choices: []chat.Choice{{Label: "open", Value: "open"}, {Label: "shut", Value: "closed"}}}}}, run: (*Handler).valve},
		{Spec: chat.Spec{Name: "chart", Summary: "A picture of the cylinder so far and to come"}, run: withSituation((*Handler).chart)},
		{Spec: chat.Spec{Name: "cost", Summary: "What a litre costs, who owes what, when the outlay is earned back"}, household: true, run: (*Handler).cost},
		{Spec: chat.Spec{Name: "history", Summary: "The fillings so far"}, run: withSituation((*Handler).history)},
		{Spec: chat.Spec{Name: "serving", Summary: "Find out by weighing how much gas a serving takes", Options: []chat.Option{
			{Name: "bottles", Summary: "Bottle before > after, for example 1012.4 > 1018.5 g; several with a comma between"},
			{Name: "platform", Summary: "Cylinder on its scale before > after, for example 21.34 > 21.29 kg"},
			{Name: "servings", Summary: "How many servings lie between the two", Kind: chat.Number},
			{Name: "litres", Summary: "Drink in one serving, for example 0.84", Kind: chat.Number},
			{Name: "water", Summary: "Temperature of the water, for example 5 C or 41 F"},
			{Name: "pressure", Summary: "What the regulator's gauge shows, for example 4 barg or 60 psig; without the g it is absolute"}}}, household: true, run: withSituation((*Handler).serving)},
		{Spec: chat.Spec{Name: "calibrate", Summary: "Check the scale with known masses", Options: []chat.Option{
			{Name: "loads", Summary: "For example 0 kg: 84213; 10 kg: 297900 / 297905; 10 kg front left: 297880"},
			{Name: "step", Summary: "The scale's smallest step, for example 5 g"}}}, run: withSituation((*Handler).calibrate)},
		{Spec: chat.Spec{Name: "use", Summary: "Another cylinder is in use now", Options: []chat.Option{
			{Name: "name", Summary: "The cylinder that takes over", Required: true},
			{Name: "instead", Summary: "The one whose place it takes; the one in use if left out"}}}, cylinders: []string{"name", "instead"}, run: (*Handler).use},
		{Spec: chat.Spec{Name: "entries", Summary: "What was entered lately"}, household: true, run: (*Handler).entries},
		{Spec: chat.Spec{Name: "undo", Summary: "Take back what you entered last"}, household: true, run: (*Handler).undoLast},
		{Spec: chat.Spec{Name: "help", Summary: "What can be said here, and how to stay safe"}, household: true, run: (*Handler).help},
	}
}

// buttons is what each button does, by what its id says before the colon; the rest of the id is its argument.
var buttons = map[string]action{
	"take":       removingButtons((*Handler).noteCandidate),
	"refill":     removingButtons((*Handler).refillSeen),
	"again":      removingButtons(withEntry((*Handler).restore)),
	"away":       removingButtons((*Handler).awayConfirmed),
	"dry":        removingButtons((*Handler).dryConfirmed),
	"undo":       removingButtons(withEntry((*Handler).voidEntry)),
	"afresh":     removingButtons((*Handler).afreshConfirmed),
	"mine":       withSituation((*Handler).takeOnRefill),
	"booked":     withSituation((*Handler).bookedForm),
	"nobook":     withSituation((*Handler).notBooked),
	"here":       withSituation((*Handler).filledForm),
	"fill":       removingButtons((*Handler).fillConfirmed),
	"serve":      (*Handler).servingForm,
	"serving":    removingButtons((*Handler).adoptServing),
	"answer":     removingButtons((*Handler).causeAnswered),
	"later":      simple(record.Later, "I'll ask again in two days."),
	"checked":    simple(record.Calibrated, "Noted: the scale is checked. I'll ask again in half a year."),
	"checklater": simple(record.CheckLater, "I'll ask again in two weeks."),
	"leave": removingButtons(func(*Handler, context.Context, request) (chat.Answer, error) {
		return say("Left out; nothing was noted."), nil
	}),
}

// simple is a button that stores an event of a cylinder.
func simple(kind record.Kind, reply string) action {
	return func(h *Handler, ctx context.Context, r request) (chat.Answer, error) {
		_, err := h.storeEvent(ctx, r, record.Event{Kind: kind, Cylinder: r.cylinder})
		return say(reply), err
	}
}
