package household

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// dueIn runs a household until it is told to book, and returns the first reminder.
func dueIn(t *testing.T, e *Engine) notice.Notice {
	t.Helper()
	for _, w := range readings(start, 60, 2_900, 55) {
		if said := ofKind(e.Apply(w), notice.RefillDue); len(said) > 0 {
			return said[0]
		}
	}
	t.Fatal("nobody was told to book")
	return notice.Notice{}
}

// TestBookedRefill: a word the day before, one question when the day has passed, then the ladder again.
func TestBookedRefill(t *testing.T) {
	e := New(options())
	first := dueIn(t, e)
	day := first.At.AddDate(0, 0, 5).Add(4 * time.Hour)
	e.Apply(record.Event{At: first.At.Add(time.Hour), Kind: record.Booked, Day: day, By: "Ines"})
	said := ofKind(e.Advance(first.At.AddDate(0, 0, 9)), notice.RefillDue, notice.WeighDue)
	if len(said) != 3 {
		t.Fatalf("said %d times, want the day before, the question and one reminder:\n%v", len(said), said)
	}
	for i, want := range []struct {
		days     int
		severity notice.Severity
		words    string
	}{{4, notice.Info, "booked for tomorrow"}, {6, notice.Info, "Did it come?"}, {8, notice.Warning, "has not been seen"}} {
		n := said[i]
		if got := int(n.At.Sub(first.At).Hours()/24 + 0.5); got != want.days || n.Severity != want.severity || !strings.Contains(n.Headline, want.words) || n.Follows != first.Key {
			t.Errorf("after %d days %s: %q, follows %q", got, n.Severity, n.Headline, n.Follows)
		}
	}
}

// TestBookedForTomorrow needs no word the day before; a refill that came asks nothing.
func TestBookedForTomorrow(t *testing.T) {
	e := New(options())
	first := dueIn(t, e)
	e.Apply(record.Event{At: first.At.Add(time.Hour), Kind: record.Booked, Day: first.At.AddDate(0, 0, 1), By: "Ines"})
	e.Apply(record.Event{At: first.At.AddDate(0, 0, 1).Add(9 * time.Hour), Kind: record.Filled, Net: 6_000, By: "Ines"})
	if said := ofKind(e.Advance(first.At.AddDate(0, 0, 9)), notice.RefillDue); len(said) != 0 {
		t.Errorf("said %q", said[0].Headline)
	}
	s, _ := e.Situation("", e.Now())
	if !s.Booked.IsZero() || s.Carrier != "" {
		t.Errorf("the errand is not over: %+v", s.Booked)
	}
}

// TestCouldNotGetOne plans anew at once: the reminder comes back the same moment, not days later.
func TestCouldNotGetOne(t *testing.T) {
	e := New(options())
	first := dueIn(t, e)
	e.Apply(record.Event{At: first.At.Add(time.Hour), Kind: record.Booked, Day: first.At.AddDate(0, 0, 4), By: "Ines"})
	said := ofKind(e.Apply(record.Event{At: first.At.Add(30 * time.Hour), Kind: record.Unbooked, By: "Ines"}), notice.RefillDue)
	if len(said) != 1 || said[0].Follows != first.Key {
		t.Fatalf("said %v, want a reminder that follows the first", said)
	}
	s, _ := e.Situation("", e.Now())
	if !s.Booked.IsZero() || s.Carrier != "" {
		t.Errorf("booked %s, carrier %q", s.Booked, s.Carrier)
	}
}

// TestReminderLadder: every three days at first, then ever more rarely, up to every four weeks.
func TestReminderLadder(t *testing.T) {
	e := New(options())
	last := dueIn(t, e)
	var gaps []float64
	for _, n := range ofKind(e.Advance(last.At.AddDate(0, 0, 90)), notice.RefillDue) {
		gaps = append(gaps, math.Round(n.At.Sub(last.At).Hours()/24))
		last = n
	}
	if want := []float64{3, 3, 3, 7, 14, 28, 28}; !slices.Equal(gaps, want) {
		t.Errorf("gaps of %v days, want %v", gaps, want)
	}
}

// TestLeadIsLearned: bookings that took six days move the last good day ahead of what three days would give.
func TestLeadIsLearned(t *testing.T) {
	e := New(options())
	at := start
	e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: at, Gross: 15_900})
	for range 4 {
		at = at.AddDate(0, 2, 0)
		e.Apply(record.Event{At: at, Kind: record.Booked, Day: at.AddDate(0, 0, 6), By: "Ines"})
		e.Apply(record.Event{At: at.AddDate(0, 0, 6), Kind: record.Filled, Net: 6_000})
	}
	s, _ := e.Situation("", e.Now())
	if s.LeadDays != 6 || s.LeadBookings != 4 {
		t.Errorf("lead %d days from %d bookings, want 6 from 4", s.LeadDays, s.LeadBookings)
	}
}

// TestHolidays: the supplier's holiday closes a weekday, and is told when it is in the way.
func TestHolidays(t *testing.T) {
	o := options()
	plain := New(o)
	first := dueIn(t, plain)
	eve := first.At.AddDate(0, 0, 1)
	o.Refill.Holiday = func(day time.Time) string {
		if d := day.Sub(eve); d > -24*time.Hour && d < 5*24*time.Hour {
			return "Town fair"
		}
		return ""
	}
	closed := New(o)
	sooner := dueIn(t, closed)
	if !sooner.At.Before(first.At) {
		t.Errorf("told to book on %s with five closed days ahead, on %s without", sooner.At, first.At)
	}
	if !strings.Contains(sooner.Text(), "(Town fair)") {
		t.Errorf("the closed days are not told:\n%s", sooner.Text())
	}
}

// TestTurns: who did it least lately comes first, who is away or does not carry is left out; a booking is a turn.
func TestTurns(t *testing.T) {
	o := options()
	o.Members = []record.Member{{Name: "Ines", Carries: true}, {Name: "Joon", Carries: true}, {Name: "Marta", Carries: true}, {Name: "Ade", Carries: false}}
	e := New(o)
	tell := func(days int, kind record.Kind, by string, until time.Time) {
		e.Apply(record.Event{At: start.AddDate(0, 0, days), Kind: kind, By: by, Until: until, Day: start.AddDate(0, 0, days+3)})
	}
	tell(1, record.Mine, "Ines", time.Time{})
	tell(2, record.Booked, "Marta", time.Time{})
	tell(3, record.Filled, "a stranger", time.Time{})
	tell(4, record.Absent, "Joon", start.AddDate(0, 0, 20))
	names := func(at time.Time) string {
		s, _ := e.Situation("", at)
		var out []string
		for _, turn := range s.Turns {
			out = append(out, turn.Name)
		}
		return strings.Join(out, " ")
	}
	if got := names(start.AddDate(0, 0, 5)); got != "Ines Marta" {
		t.Errorf("turns %q while Joon is away", got)
	}
	if got := names(start.AddDate(0, 0, 21)); got != "Joon Ines Marta" {
		t.Errorf("turns %q", got)
	}
}

// TestEverybodyAway is the same as the household away: nobody draws until the first is back.
func TestEverybodyAway(t *testing.T) {
	o := options()
	o.Members = []record.Member{{Name: "Ines", Carries: true}, {Name: "Joon", Carries: true}}
	lasts := func(kinds ...record.Event) unit.Days {
		e := New(o)
		feedAll(e, readings(start, 40, 5_900, 55))
		at := start.AddDate(0, 0, 40)
		for _, ev := range kinds {
			ev.At = at
			e.Apply(ev)
		}
		s, _ := e.Situation("", at)
		return s.Outlook.RunOut.Quantile(0.5)
	}
	until := start.AddDate(0, 0, 60)
	none := lasts()
	house := lasts(record.Event{Kind: record.Away, Until: until})
	one := lasts(record.Event{Kind: record.Absent, By: "Ines", Until: until})
	both := lasts(record.Event{Kind: record.Absent, By: "Ines", Until: until.AddDate(0, 0, 9)}, record.Event{Kind: record.Absent, By: "Joon", Until: until})
	back := lasts(record.Event{Kind: record.Absent, By: "Ines", Until: until}, record.Event{Kind: record.Absent, By: "Joon", Until: until}, record.Event{Kind: record.Absent, By: "Joon", Until: start})
	if one != none || math.Abs(float64(back-none)) > 1.5 {
		t.Errorf("gas for %v days with one away, %v with one back, %v with nobody away", one, back, none)
	}
	if both != house || house < none+15 {
		t.Errorf("gas for %v days with both away, %v with the house away, %v with nobody away", both, house, none)
	}
}

// TestReminderAnew: a reminder after a time in which nothing was due is a new one, and what the household does then says how soon it books.
func TestReminderAnew(t *testing.T) {
	e := New(options())
	c := e.cylinders[0]
	e.now = start
	remind := func(days int) {
		e.now = start.AddDate(0, 0, days)
		c.errand.remind(e.turn(c), e.situation(c, e.now))
	}
	for _, r := range []struct {
		day   int
		first bool // it stands for itself
	}{{0, true}, {3, false}, {6, false}, {70, true}} {
		before := c.errand.first
		remind(r.day)
		if anew := c.errand.first != before; anew != r.first {
			t.Errorf("day %d: stands for itself %v, want %v", r.day, anew, r.first)
		}
	}
	if got := c.errand.reminded; !got.Equal(start.AddDate(0, 0, 70)) {
		t.Errorf("how soon they book is counted from %v", got)
	}
}
