package recorded

import (
	"testing"

	"tarebell/forecast/unit"
)

// TestHouseholdValues: what the household's own events say is read, and written back as it was.
func TestHouseholdValues(t *testing.T) {
	for _, c := range []struct {
		kind  Kind
		value string
		want  func(Event) bool
	}{
		{Filled, "9.070 kg price 42.50 EUR", func(e Event) bool { return e.Net == 9070 && e.Paid == "42.50" && e.Currency == "EUR" }},
		{Filled, "9.070 kg tare 14.300 kg price 5000 JPY", func(e Event) bool { return e.Tare == 14300 && e.Paid == "5000" }},
		{Filled, "price 7.125 KWD", func(e Event) bool { return e.Net == 0 && e.Currency == "KWD" }},
		{Serving, "6.1 g 0.84 L", func(e Event) bool { return e.CO2 == 6.1 && e.Litres == unit.Litres(0.84) }},
		{Serving, "6 g", func(e Event) bool { return e.CO2 == 6 && e.Litres == 0 }},
		{InUse, "main", func(e Event) bool { return e.Instead == "main" }},
		{InUse, "", func(e Event) bool { return e.Instead == "" }},
		{Answer, "lost about 2027-03-05T02:10:00Z", func(e Event) bool { return e.Cause == "lost" && e.About.Minute() == 10 }},
		{Answer, "moved", func(e Event) bool { return e.About.IsZero() }},
		{Calibrated, "", func(Event) bool { return true }},
		{Absent, "2027-03-05T18:00:00Z", func(e Event) bool { return e.Until.Hour() == 18 }},
	} {
		e, err := ReadEvent(c.kind, c.value)
		if err != nil || !c.want(e) {
			t.Errorf("%s %q: %+v, %v", c.kind, c.value, e, err)
		}
		if got := e.Text(); got != c.value {
			t.Errorf("%s %q is written as %q", c.kind, c.value, got)
		}
	}
	for kind, values := range map[Kind][]string{
		Filled:     {"9 kg price", "9 kg price 42", "price 42.5 eur", "price -3 EUR", "price 42 EUR tare 14 kg"},
		Serving:    {"", "6.1", "6.1 kg", "-6 g", "NaN g", "6 g 0.84", "6 g -1 L", "6 g 0.84 L more", "9999 g"},
		Calibrated: {"yes"},
		Answer:     {"", "maybe", "lost about noon", "lost about "},
		Absent:     {"", "soon", "2027-13-01"},
	} {
		for _, v := range values {
			if e, err := ReadEvent(kind, v); err == nil {
				t.Errorf("%s %q is taken for %+v", kind, v, e)
			}
		}
	}
}
