package command

import (
	"strings"
	"testing"

	"tarebell/bot/internal/chat"
)

// TestWeightsOfThePast: who types the weights of the last months in one go is not asked whether every one of them was a filling, though
// nobody could say what the cylinder holds now.
func TestWeightsOfThePast(t *testing.T) {
	b := newTableOf(t, home)
	headline(t, b.say("25.2 kg 100 days ago"), "Noted: 25.2 kg")
	says(t, b.call("gas"), "held 9.6 kg of gas", "what is left now cannot be told")
	for _, w := range []string{"22.0 kg 60 days ago", "18.9 kg 25 days ago", "17.6 kg 10 days ago"} {
		headline(t, b.say(w), "Noted: ")
	}
	says(t, b.call("gas"), "enough until about")
	headline(t, b.say("24.8 kg"), "more than by the weights before. Was the cylinder filled?")
}

// TestBookedTooLate: a day after the gas is likely gone, a slip of the finger perhaps, is accepted and doubted.
func TestBookedTooLate(t *testing.T) {
	b := newTableOf(t, home)
	for _, w := range []string{"25.2 kg 100 days ago", "22.0 kg 60 days ago", "18.9 kg 25 days ago", "17.6 kg 10 days ago"} {
		b.say(w)
	}
	says(t, b.call("booked", "day", "2027-11-21"), "booked for Sun 21 Nov", "That may be too late: the gas is enough until about")
	if a := text(b.call("booked", "day", "tomorrow")); strings.Contains(a, "too late") {
		t.Error(a)
	}
}

// TestReceiptToldTwice: the same receipt with its price is the same filling; another mass is another filling.
func TestReceiptToldTwice(t *testing.T) {
	b := newTableOf(t, home)
	b.say("16 kg")
	headline(t, b.call("filled", "net", "9.5 kg"), "Noted: filled with 9.5 kg")
	headline(t, b.call("filled", "net", "9.5 kg", "price", "42"), "Noted: filled with 9.5 kg for 42.00 EUR")
	headline(t, b.call("filled", "net", "9.6 kg"), "A filling was noted")
	headline(t, b.call("filled", "price", "43"), "A filling was noted")
	says(t, b.call("history"), "2 fillings", "9.5 kg by receipt", "42.00 EUR paid by Ines")
}

// TestCheckOfTheScale: the buttons under the message that asks for one.
func TestCheckOfTheScale(t *testing.T) {
	b := newTableOf(t, home)
	b.say("24.6 kg")
	headline(t, b.press("checklater:main", nil), "again in two weeks")
	headline(t, b.press("checked:main", nil), "the scale is checked")
	says(t, b.call("entries"), "scale checked by Ines", "to be reminded of the scale later by Ines")
	for _, words := range []string{"until sunday", "for sunday"} {
		headline(t, b.call("away", "until", words), "nobody draws until Sun 23 May")
	}
	b.callBy(chat.Member{ID: "1", Name: "Ines"}, "away", "until", "now")
	says(t, b.call("entries"), "back again by Ines")
}

// TestZeroNeedsNoUnit: the empty platform shows 0, in whatever unit.
func TestZeroNeedsNoUnit(t *testing.T) {
	b := newTableOf(t, home)
	b.say("24.6 kg")
	headline(t, b.call("calibrate", "loads", "0 kg: 0; 10 kg: 10.01 kg; 20 kg: 20.02 kg"), "The scale agrees with the known masses")
	headline(t, b.call("calibrate", "loads", "0 kg: 0.1; 10 kg: 10.01 kg"), "Some readings have a unit and some have none")
}
