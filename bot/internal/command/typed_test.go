package command

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/forecast/unit/record"
)

// edit is a message that its author changed, or deleted if text is empty.
func (b *table) edit(id string, at time.Time, text string) chat.Answer {
	b.now = b.now.Add(time.Minute)
	s := chat.Said{ID: id, At: at, By: ines, Text: text, Changed: b.now}
	if text == "" {
		s.By, s.Deleted = chat.Member{}, true
	}
	return b.Say(context.Background(), s)
}

func (b *table) weighs(want ...float64) {
	b.t.Helper()
	if got := b.gross(); !slices.Equal(got, want) {
		b.t.Errorf("the ledger counts %v, want %v", got, want)
	}
}

// TestCorrections: what its author says is wrong is replaced, in one line, and comes back with an undo; by somebody else, or long
// after, it is a weight of its own.
func TestCorrections(t *testing.T) {
	b := newTable(t)
	b.say("22.1 kg")
	b.now = b.now.AddDate(0, 0, 3)
	for _, c := range []struct {
		text, says string
		counts     float64
	}{
		{"21.5", "Noted: 21.5 kg", 21_500},
		{"no, 21.1", "Corrected: 21.1 kg instead of 21.5 kg", 21_100},
		{"sorry 21.4 not 21.1", "Corrected: 21.4 kg instead of 21.1 kg", 21_400},
		{"ich meinte 21,6", "Corrected: 21.6 kg instead of 21.4 kg", 21_600},
		{"my mistake, it was 21.70", "Corrected: 21.7 kg instead of 21.6 kg", 21_700},
		{"typo: 21.9", "Corrected: 21.9 kg instead of 21.7 kg", 21_900}, // no rise: it is compared with what was before
	} {
		a := b.say(c.text)
		headline(t, a, c.says)
		if strings.HasPrefix(c.says, "Corrected") && len(a.Message.Body) > 0 {
			t.Errorf("%q: %q, want one line", c.text, text(a))
		}
		b.weighs(22_100, c.counts)
	}
	headline(t, b.call("undo"), "21.7 kg counts again")
	b.weighs(22_100, 21_700)
	b.restart()
	a := b.say("no, 21.6")
	headline(t, b.press(buttonID(t, a, "Undo"), nil), "21.7 kg counts again")
	b.weighs(22_100, 21_700)
	b.now = b.now.Add(2 * time.Hour)
	headline(t, b.say("sorry, 21.5 kg"), "Noted: 21.5 kg")
	b.Say(context.Background(), chat.Said{ID: b.id(), At: b.now, By: joon, Text: "no, 21.4 kg"})
	b.weighs(22_100, 21_700, 21_500, 21_400)
}

// TestEditedMessage: the weight follows its message, once, and is struck out with it.
func TestEditedMessage(t *testing.T) {
	b := newTable(t)
	b.say("22.1 kg")
	b.now = b.now.AddDate(0, 0, 3)
	b.say("21.5 kg")
	id, at := "2", b.now
	headline(t, b.edit(id, at, "21.9 kg"), "Corrected: 21.9 kg instead of 21.5 kg")
	b.weighs(22_100, 21_900)
	if a := b.edit(id, at, "21.9 kg, Bo helped"); a.Message == nil || !strings.Contains(a.Message.Headline, "Shall I note") {
		t.Errorf("with words that may be a time: %q", text(a))
	}
	if a := b.edit(id, at, "21.9 kg!"); a.Message != nil {
		t.Errorf("the same weight: %q", text(a))
	}
	a := b.edit(id, at, "21.9 or 21.8 kg")
	b.weighs(22_100, 21_900)
	headline(t, b.press(buttonID(t, a, "21.8 kg"), nil), "Corrected: 21.8 kg instead of 21.9 kg")
	b.weighs(22_100, 21_800)
	headline(t, b.edit(id, at, "never mind"), "Struck out, as its message was edited: 21.8 kg by Ines")
	b.weighs(22_100)
	headline(t, b.edit(id, at, "21.7 kg"), "Noted: 21.7 kg")
	a = b.edit(id, at, "")
	headline(t, a, "Struck out, as its message was deleted: 21.7 kg by Ines")
	b.weighs(22_100)
	headline(t, b.press(buttonID(t, a, "Undo"), nil), "It counts again: 21.7 kg")
	headline(t, b.press(buttonID(t, a, "Undo"), nil), "It counts again already.")
	b.weighs(22_100, 21_700)
	b.edit(id, at, "")
	b.now = b.now.Add(time.Hour)
	asked := b.say("48.1")
	headline(t, b.edit(fmt.Sprint(b.n), b.now, "21.6 kg"), "Noted: 21.6 kg")
	headline(t, b.press(buttonID(t, asked, "48.1 lb"), nil), "That message is noted already: 21.6 kg")
	b.weighs(22_100, 21_600)
	for _, of := range []string{id, "77"} {
		if a := b.edit(of, at, ""); a.Message != nil {
			t.Errorf("a message without a weight was deleted: %q", text(a))
		}
	}
}

// TestTypedAnswers: a question is answered in words by whom it was put to, for some minutes.
func TestTypedAnswers(t *testing.T) {
	b := newTable(t)
	b.say("22.1 kg")
	for _, c := range []struct {
		ask, reply, says string
	}{
		{"48.1", "lb", "Noted: 48.1 lb"},
		{"48.0", "yes", "Noted: 48 lb"},
		{"48.0", "nein", "nothing was noted"},
		{"21.7 or 21.6", "the second", "Noted: 21.6 kg"},
		{"21.7 or 21.6", "21.7", "Noted: 21.7 kg"},
		{"6.2 kg", "net", "Noted: 6.2 kg net"},
		{"my suitcase is 20.3 kg", "no", "nothing was noted"},
		{"bei uns 21,5 kg?", "ja genau", "Noted: 21.5 kg"},
		{"it's empty", "no", "nothing was noted"},
		{"it's full again", "oui", "Noted: filled"},
		{"la bombona está vacía", "sí", "it ran dry"},
	} {
		b.now = b.now.Add(10 * time.Minute)
		b.say(c.ask)
		headline(t, b.say(c.reply), c.says)
	}
	for _, c := range [][]string{{"48.1", "see you later", "lb"}, {"21.7 or 21.6", "yes"}, {"48.1", "no idea"}} {
		b.now = b.now.Add(10 * time.Minute)
		for i, line := range c {
			if a := b.say(line); i > 0 && a.Message != nil {
				t.Errorf("%q: answered %q", c, text(a))
			}
		}
	}
	b.say("48.1")
	b.now = b.now.Add(6 * time.Minute)
	if a := b.say("yes"); a.Message != nil {
		t.Errorf("long after: %q", text(a))
	}
}

// TestNamesWhereverTheyStand: with "second" in use and "main" waiting, a weight goes to the one that it names.
func TestNamesWhereverTheyStand(t *testing.T) {
	b := newTableOf(t, func(o *household.Options, d *Options) {
		spare := o.Cylinders[0]
		spare.Spare = true
		o.Cylinders[0].Name = "second"
		o.Cylinders = append(o.Cylinders, spare)
		d.Cylinders = append([]record.Cylinder{{Name: "second", Tare: 14_300, Fittings: 1_100, NetFill: 10_000}}, d.Cylinders...)
	})
	b.say("second 22.1 kg")
	for _, typed := range []string{"24.5 kg main", "main: 24.5", "main 24.5 kg"} {
		says(t, b.say(typed), "for main", "It waits with 9.1 kg of gas")
		says(t, b.call("weigh", "weight", typed), "for main", "It waits with 9.1 kg of gas")
	}
	headline(t, b.say("22.0 kg"), "for second")
	says(t, b.call("plan"), "main")
	headline(t, b.say("main 20.0 kg"), "It waits with 4.6 kg of gas")
	if p := text(b.call("plan")); strings.Contains(p, "stands by full") {
		t.Errorf("a half full one stands by full:\n%s", p)
	}
}

// TestFilledByAButton: after two weeks the gas of a filling is what is in the cylinder, though it was drawn from since the last weight.
func TestFilledByAButton(t *testing.T) {
	b := newTable(t)
	for _, w := range []string{"19.6 kg", "19.0 kg", "18.3 kg", "17.6 kg"} {
		b.say(w)
		b.now = b.now.AddDate(0, 0, 14)
	}
	b.say("25.2 kg")
	a := b.say("25.2 kg") // the weight once more is no answer
	headline(t, a, "Was the cylinder filled?")
	yes := buttonID(t, a, "Yes, filled")
	a = b.press(yes, nil)
	says(t, a, "Noted: 25.2 kg", "Filled: about 9.8 kg of gas is in it.")
	headline(t, b.press(buttonID(t, a, "Undo the filling"), nil), "Undone: filled by Ines")
	headline(t, b.press(buttonID(t, a, "Undo"), nil), "Undone: 25.2 kg by Ines")
	b.press(buttonID(t, b.say("25.2 kg"), "Yes, filled"), nil)
	says(t, b.call("history"), "9.8 kg by scale")
	headline(t, b.call("ran-dry"), "it ran dry")
	headline(t, b.call("gas"), "no usable gas is left")
	headline(t, b.say("17 kg"), "It ran dry, but at 17 kg")
}

// TestFilledInOneBreath: a filling may be told in the order of the options, without their names.
func TestFilledInOneBreath(t *testing.T) {
	b := newTableOf(t, home)
	b.say("16.0 kg")
	says(t, b.call("filled", "net", "9.8 kg 45 EUR 14.2 kg Joon"), "filled with 9.8 kg for 45.00 EUR", "counts as 14.2 kg")
	says(t, b.call("history"), "45.00 EUR paid by Joon")
	for typed, want := range map[string]string{
		"500 kg":    "The net cannot be 500 kg: for this cylinder it is about 10 kg.",
		"22 kg":     "The net of 22 kg looks like pounds.",
		"20 kg":     "The net of 20 kg looks like pounds.",
		"9.8 litre": "is not a weight for net",
	} {
		headline(t, b.call("filled", "net", typed), want)
	}
	headline(t, b.call("away", "until", "2030-01-01"), "Will nobody draw until Tue 1 Jan 2030?")
	a := b.call("away", "until", "2030-01-01")
	headline(t, b.press(buttonID(t, a, "Yes"), nil), "nobody draws until Tue 1 Jan 2030")
	headline(t, b.call("valve", "state", "shut"), "the cylinder valve is shut")
	headline(t, b.call("calibrate", "loads", "0 kg: 84213; 0 kg: 84214"), "That does not make a calibration: want at least two")
}

// TestCostOfThreeFillings: four people, three who paid. What each filling gave is charged as it is drawn, and the balances add up to nothing.
func TestCostOfThreeFillings(t *testing.T) {
	b := newTableOf(t, func(o *household.Options, d *Options) {
		home(o, d)
		o.Members = append(o.Members, record.Member{Name: "Bo", Carries: true})
		d.Members = append(d.Members, record.Member{Name: "Bo", ID: "4"})
	})
	bo, marta := chat.Member{ID: "4", Name: "Bo"}, chat.Member{ID: "3", Name: "Marta"}
	b.say("main 17.4 kg")
	drink := func(grams float64, servings ...float64) {
		t.Helper()
		gross := b.gross()
		at := gross[len(gross)-1]
		for week := 1; week <= 4; week++ {
			b.now = b.now.AddDate(0, 0, 7)
			for i, by := range []chat.Member{ines, joon, marta, bo} {
				b.callBy(by, "made", "servings", fmt.Sprint(servings[i]))
			}
			b.say(fmt.Sprintf("main %.2f kg", (at-grams*float64(week)/4)/1000))
		}
	}
	fill := func(by chat.Member, gross, net, price string) {
		t.Helper()
		b.now = b.now.AddDate(0, 0, 1)
		headline(t, b.callBy(by, "filled", "net", net, "price", price), "Noted: filled")
		b.now = b.now.Add(time.Hour)
		b.say("main " + gross)
	}
	drink(1_200, 10, 10, 5, 6.5)
	fill(ines, "25.4 kg", "10 kg", "40 EUR")
	drink(4_000, 40, 30, 20, 10)
	fill(marta, "25.2 kg", "9.8 kg", "31 EUR")
	drink(400, 2, 2, 2, 2)
	t.Logf("eight days and some after Marta paid 31 EUR:\n%s", text(b.call("cost")))
	a := b.opt.House.Account(b.now)
	balance := map[string]int64{}
	sum := int64(0)
	for _, s := range a.Shares {
		balance[s.Name] = s.Balance.Minor()
		sum += s.Balance.Minor()
	}
	if sum != 0 || len(a.Shares) != 4 {
		t.Errorf("balances %v add up to %d", balance, sum)
	}
	// Of Ines' 40 EUR about 4.2 kg of 10 are drawn, 16 to 17 EUR, of Marta's 31 EUR about 400 g of 9.8 kg, 1.3 EUR; what was there first is free.
	for _, s := range a.Shares {
		switch {
		case s.Name == "Ines" && (s.Repaid.Minor() < 1500 || s.Repaid.Minor() > 1750), s.Name == "Marta" && (s.Repaid.Minor() < 60 || s.Repaid.Minor() > 200):
			t.Errorf("%s gets %v", s.Name, s.Repaid)
		case (s.Name == "Joon" || s.Name == "Bo") && (s.Repaid.Minor() != 0 || s.Balance.Minor() <= 0):
			t.Errorf("%s: %+v", s.Name, s)
		}
	}
	fill(bo, "25.4 kg", "10 kg", "45 EUR")
	drink(2_000, 10, 15, 10, 20.5)
	c := b.call("cost")
	t.Logf("\n%s", text(c))
	says(t, c, "Bo: 156 servings", "paid 45.00 EUR of which", "first in, first out")
	sum = 0
	for _, s := range b.opt.House.Account(b.now).Shares {
		sum += s.Balance.Minor()
	}
	if sum != 0 {
		t.Errorf("balances add up to %d", sum)
	}
}
