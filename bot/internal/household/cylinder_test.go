package household

import (
	"math"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// TestAfresh: after nonsense a trusted weight counts at once, whatever was believed, and the use stays as a guess.
func TestAfresh(t *testing.T) {
	e := New(options())
	ws := readings(start, 40, 5_900, 55)
	feedAll(e, ws)
	before, _ := e.Situation("", e.Now())
	at := ws[len(ws)-1].At
	e.Apply(record.Event{At: at.Add(time.Hour), Kind: record.Afresh, Gross: before.House + 5_000, By: "Ines"})
	s, _ := e.Situation("", e.Now())
	if math.Abs(s.Outlook.Gas.Mean-5_000) > 150 {
		t.Errorf("%.0f g believed, 5000 trusted", s.Outlook.Gas.Mean)
	}
	if use := s.Outlook.Use.Mean; math.Abs(use/before.Outlook.Use.Mean-1) > 0.3 {
		t.Errorf("%.0f g a day, %.0f before", use, before.Outlook.Use.Mean)
	}
}

// TestAwaitedRefillByWeight: a booked refill of which nobody says a word is seen by the weight that somebody types; a weight half way is
// no refill, and without anything awaited none is.
func TestAwaitedRefillByWeight(t *testing.T) {
	for _, c := range []struct {
		what   string
		booked bool
		net    unit.Grams
		want   bool
	}{{"booked and full", true, 5_900, true}, {"booked, half full", true, 3_000, false}} {
		e := New(options())
		s, _ := e.Situation("", start)
		house := s.House
		for d := 0; d <= 90; d += 7 {
			e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: start.AddDate(0, 0, d), Gross: house + 5_900 - unit.Grams(55*d), Origin: record.Manual})
		}
		at := start.AddDate(0, 0, 92)
		if c.booked {
			e.Apply(record.Event{At: at, Kind: record.Booked, Day: at.AddDate(0, 0, 2), By: "Ines"})
		}
		said := e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: at.AddDate(0, 0, 2).Add(5 * time.Hour), Gross: house + c.net, Origin: record.Manual})
		if got := len(ofKind(said, notice.FillSeen)) == 1; got != c.want {
			t.Errorf("%s: filled %v, want %v", c.what, got, c.want)
		}
	}
}

// TestAwayToBeFilled: a cylinder that is off its scale on the day of its refill is no news.
func TestAwayToBeFilled(t *testing.T) {
	e := New(options())
	ws := readings(start, 20, 5_900, 55)
	feedAll(e, ws)
	at := ws[len(ws)-1].At
	e.Apply(record.Event{At: at, Kind: record.Booked, Day: at, By: "Ines"})
	var said []notice.Notice
	for h := 1; h <= 30; h++ {
		said = append(said, e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: at.Add(time.Duration(h) * time.Hour), Gross: unit.Grams(h % 4)})...)
	}
	if odd := ofKind(said, notice.OddReading); len(odd) != 0 {
		t.Errorf("said %q", odd[0].Headline)
	}
}

// TestNoFilling: a crate that came back with the cylinder and was taken for a filling, until it left again, moves neither the history nor the booking.
func TestNoFilling(t *testing.T) {
	e := New(options())
	ws := readings(start, 60, 5_900, 55)
	feedAll(e, ws)
	at, low := ws[len(ws)-1].At, ws[len(ws)-1].Gross
	e.Apply(record.Event{At: at, Kind: record.Booked, Day: at.AddDate(0, 0, 5), By: "Ines"})
	before, _ := e.Situation("", e.Now())
	var said []notice.Notice
	reads := func(hours int, gross unit.Grams) {
		for range hours {
			at = at.Add(time.Hour)
			said = append(said, e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: at, Gross: gross + unit.Grams(at.Hour()%3)})...)
		}
	}
	reads(5, 0)
	reads(24, low+2_900)
	if seen := ofKind(said, notice.FillSeen); len(seen) != 1 || !strings.Contains(seen[0].Headline, "5.5 kg") { // with what was left
		t.Fatalf("a crate of 2.9 kg: said %v", said)
	}
	reads(3, low)
	after, _ := e.Situation("", e.Now())
	if odd := ofKind(said, notice.OddReading); len(odd) != 1 || !strings.Contains(odd[0].Headline, "no filling") {
		t.Errorf("said %v", said)
	}
	if after.Booked != before.Booked || !after.Fill.At.Equal(before.Fill.At) || math.Abs(after.Outlook.Gas.Mean-before.Outlook.Gas.Mean) > 150 {
		t.Errorf("booked for %s, fill of %s, %.0f g; want %s, %s, %.0f g as before", after.Booked, after.Fill.At, after.Outlook.Gas.Mean, before.Booked, before.Fill.At, before.Outlook.Gas.Mean)
	}
}

// TestSwappedBetweenReadings: a refill that is booked and comes between two readings, so that nothing was seen to leave, is told at once and not taken
// for something that stands beside the cylinder. Who has booked none waits whether it stays.
func TestSwappedBetweenReadings(t *testing.T) {
	for _, booked := range []bool{true, false} {
		e := New(options())
		ws := readings(start, 80, 5_900, 55)
		feedAll(e, ws)
		at, low := ws[len(ws)-1].At, ws[len(ws)-1].Gross
		if booked {
			e.Apply(record.Event{At: at, Kind: record.Booked, Day: at, By: "Ines"})
		}
		var said []notice.Notice
		for range 5 {
			at = at.Add(time.Hour)
			said = append(said, e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: at, Gross: low + 4_000 + unit.Grams(at.Hour()%3)})...)
		}
		seen := ofKind(said, notice.FillSeen)
		if told := len(seen) == 1; told != booked || told && !strings.Contains(seen[0].Headline, "5.5 kg") { // with what was left
			t.Errorf("booked %v: said %v", booked, said)
		}
	}
}

// TestScaleIsBack: who was told that a scale is silent is told that it answers, and why it had not.
func TestScaleIsBack(t *testing.T) {
	e := New(options())
	ws := readings(start, 5, 5_900, 55)
	feedAll(e, ws)
	last := ws[len(ws)-1]
	e.Trouble("main", "the answer is a web page")
	said := ofKind(e.Advance(last.At.AddDate(0, 0, 3)), notice.ScaleSilent)
	last.At = last.At.AddDate(0, 0, 4)
	back := ofKind(e.Apply(last), notice.ScaleSilent)
	if len(said) != 1 || len(back) != 1 || back[0].Follows != said[0].Key || !back[0].Ends {
		t.Fatalf("said %v, back %v", said, back)
	}
	if text := said[0].Text(); !strings.Contains(text, "web page") || strings.Contains(text, "Wi-Fi") {
		t.Errorf("the cause is not told:\n%s", text)
	}
}

// TestFillAndSlip: a weight that cannot be right says nothing of the filling that was told; the next one does.
func TestFillAndSlip(t *testing.T) {
	e := New(options())
	e.Apply(record.Event{Kind: record.Filled, Cylinder: "main", At: start, Net: 6_000})
	says := func(at time.Time, gross unit.Grams) []notice.Notice {
		return e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: at, Origin: record.Manual, Gross: gross})
	}
	said := says(start.Add(time.Hour), 35_000) // 15.9 kg in pounds, said to be kilograms
	if len(ofKind(said, notice.FillSeen)) != 0 || len(ofKind(said, notice.OddReading)) != 1 {
		t.Errorf("a weight in pounds: %v", said)
	}
	if said = ofKind(says(start.Add(2*time.Hour), 15_900), notice.FillSeen); len(said) != 1 || !strings.Contains(said[0].Headline, "5.9 kg") {
		t.Errorf("the right weight: %v", said)
	}
}

// The most that was drawn in a day of a fill is known once two fills lasted two weeks.
func TestMostUsed(t *testing.T) {
	day := time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)
	lasted := func(days int, used unit.Grams) fill {
		f := newFill(notice.Fill{At: day, Until: day.AddDate(0, 0, days), Used: used})
		day = day.AddDate(0, 0, days)
		return f
	}
	c := contents{fills: []fill{lasted(10, 900), lasted(50, 2000)}}
	if got := c.mostUsed(); got != 0 {
		t.Errorf("%v after one fill of more than two weeks", got)
	}
	c.fills = append(c.fills, lasted(20, 2000), lasted(100, 2000), newFill(notice.Fill{At: day, Used: 900}))
	if got := c.mostUsed(); got != 100 {
		t.Errorf("%v, want 100 g/day", got)
	}
	c.fills = append(c.fills, lasted(8, 2000)) // a short one counts once it is known what is usual
	if got := c.mostUsed(); got != 250 {
		t.Errorf("%v, want 250 g/day", got)
	}
}
