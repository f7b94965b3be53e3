package notice

import (
	"strings"
	"testing"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// A status has six lines at most, whatever there is to tell.
func TestStatusLines(t *testing.T) {
	now := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	s := situation(now, 1900, 14)
	s.Silent, s.Week, s.WeekPrev = now.AddDate(0, 0, -3), 610, 350
	s.BookBy, s.Changed = now.AddDate(0, 0, 3), []string{"One thing.", "Another.", "A third.", "A fourth."}
	v := Voice{Zone: time.UTC}
	if all := v.Reasons(s); len(all) < 5 {
		t.Fatalf("too little to tell for this test: %q", all)
	}
	n := v.Status(s)
	if got := strings.Count(n.Text(), "\n") + 1; got != 6 {
		t.Errorf("%d lines, want 6:\n%s", got, n.Text())
	}
	if !strings.Contains(n.Text(), "One thing.") {
		t.Errorf("what changed is not told:\n%s", n.Text())
	}
}

// What stands as it was told last week is not told again; what is to be done is.
func TestStatusTellsWhatChanged(t *testing.T) {
	now := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	v := Voice{Zone: time.UTC}
	calm := situation(now, 3520, 65)
	for _, c := range []struct {
		name   string
		change func(*Situation)
		tells  []string
		not    []string
	}{
		{"the same", func(*Situation) {}, nil, []string{"Four times", "You use", "Nothing to book"}},
		{"a use a little higher", func(s *Situation) { s.Outlook.Use.Mean = 56 }, nil, []string{"You use"}},
		{"a use much higher", func(s *Situation) { s.Outlook.Use.Mean = 60 }, []string{"You use about 60 g a day"}, []string{"Nothing to book"}},
		{"what was lost is no use", func(s *Situation) {
			s.Week, s.WeekPrev = 740, 390
			s.Losses = []Lost{{From: s.Now.AddDate(0, 0, -8), To: s.Now.AddDate(0, 0, -4), Mass: 520}} // a quarter of it in the week before
		}, nil, []string{"this week"}},
		{"a week unlike the last", func(s *Situation) { s.Week, s.WeekPrev = 610, 350 }, []string{"this week 610 g"}, nil},
		{"a week unlike any", func(s *Situation) { s.Week, s.WeekPrev, s.WeekMost = 710, 350, 400 },
			[]string{"More went than in any week before: 710 g, where it was 400 g at most."}, []string{"this week"}},
		{"a use unlike that of any fill", func(s *Situation) { s.FillMost = 25 },
			[]string{"You use about 52 g a day now; of no fill before was it more than 25 g. If nobody drinks more, look for a leak"}, nil},
		{"a use that is known before", func(s *Situation) { s.FillMost, s.Stated.more = 25, true }, nil, []string{"of no fill before"}},
		{"a week a little above any", func(s *Situation) { s.Week, s.WeekPrev, s.WeekMost = 580, 350, 400 }, nil, []string{"More went"}},
		{"a large week of little use", func(s *Situation) { s.Week, s.WeekPrev, s.WeekMost = 130, 15, 20 }, nil, []string{"More went"}},
		{"a large week of a loss", func(s *Situation) {
			s.Week, s.WeekPrev, s.WeekMost = 710, 350, 400
			s.Losses = []Lost{{From: s.Now.AddDate(0, 0, -2), To: s.Now.AddDate(0, 0, -1), Mass: 300}}
		}, nil, []string{"More went"}},
		{"another span", func(s *Situation) { s.Outlook.RunOut = spreadOf(80) }, []string{"Four times"}, nil},
		{"another day to book", func(s *Situation) { s.BookBy = now.AddDate(0, 0, 90) }, []string{"Nothing to book before"}, nil},
		{"a weight that is awaited", func(s *Situation) { s.BookBy, s.Decision.Why = now.AddDate(0, 0, -1), WeightAwaited },
			[]string{"A weight decides when to book."}, []string{"should be booked"}},
		{"too soon to tell", func(s *Situation) { s.BookBy, s.Decision.Why = now.AddDate(0, 0, -1), TooSoon },
			[]string{"It is too soon to say when to book."}, []string{"should be booked"}},
		{"a booked day to come", func(s *Situation) { s.Booked = now.AddDate(0, 0, 2) }, []string{"The refill is booked for"}, nil},
		{"a booked day that has passed", func(s *Situation) { s.Booked = now.AddDate(0, 0, -4) }, []string{"The refill was booked for"}, []string{"is booked"}},
		{"time to book", func(s *Situation) { s.BookBy = now.AddDate(0, 0, 5) }, []string{"Book the refill by"}, nil},
	} {
		s := calm
		s.Stated = v.Statement(calm)
		c.change(&s)
		text := v.Status(s).Text()
		for _, w := range c.tells {
			if !strings.Contains(text, w) {
				t.Errorf("%s: lacks %q:\n%s", c.name, w, text)
			}
		}
		for _, w := range c.not {
			if strings.Contains(text, w) {
				t.Errorf("%s: repeats %q:\n%s", c.name, w, text)
			}
		}
	}
	due := calm
	due.BookBy = now.AddDate(0, 0, 5)
	due.Stated = v.Statement(due)
	if text := v.Status(due).Text(); !strings.Contains(text, "Book the refill by") {
		t.Errorf("what is to be done is left out:\n%s", text)
	}
}

// An old weight and a use that nobody knows make no statement about what is left now.
func TestAdrift(t *testing.T) {
	now := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	v := Voice{Zone: time.UTC}
	s := situation(now, 400, 20)
	s.Outlook.Learned, s.Outlook.Gas.SD, s.Outlook.LastSeen = false, 4000, now.AddDate(0, 0, -100)
	s.House, s.LastGross = 15_400, 25_000
	want := "The cylinder held 9.5 kg of gas on Fri 5 Feb; what is left now cannot be told before it is weighed again."
	if got := v.GasLeft(s); got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := v.Refill(s, 0).Headline; strings.Contains(got, "is about empty") {
		t.Errorf("reminds with %q", got)
	}
	s.Outlook.LastSeen = now.AddDate(0, 0, -2)
	if got := v.GasLeft(s); strings.Contains(got, "held") {
		t.Errorf("two days after a weight: %q", got)
	}
}

// What most likely ran out since it was last weighed is said to be probably empty, without a date that creeps along.
func TestEnded(t *testing.T) {
	now := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	v := Voice{Zone: time.UTC}
	s := situation(now, 60, 20)
	s.Outlook.Learned, s.Outlook.Ended, s.Outlook.LastSeen, s.House, s.LastGross = true, 0.8, now.AddDate(0, 0, -12), 15_400, 16_700
	s.BookBy, s.Earliest, s.Overdue, s.RiskNow = now, now.AddDate(0, 0, 4), true, 0.9
	want := []string{"The cylinder is probably empty by now: it held 1.2 kg of gas on Tue 4 May.", "A weight would tell, or “it ran dry”.", "A refill booked now would come about Thu 20 May."}
	text := v.Status(s).Text()
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("lacks %q:\n%s", w, text)
		}
	}
	if got := v.Refill(s, 0).Headline; got != "The cylinder is probably empty by now, and no refill is booked." {
		t.Errorf("reminds with %q", got)
	}
	if strings.Contains(text, "Four times out of five") {
		t.Errorf("tells when it will end:\n%s", text)
	}
	for _, change := range []func(){func() { s.Outlook.Ended = 0.3 }, func() { s.Outlook.Ended, s.Outlook.LastSeen = 0.8, now.AddDate(0, 0, -3) }} {
		if change(); strings.Contains(v.Status(s).Text(), "probably") {
			t.Errorf("said to be empty:\n%s", v.Status(s).Text())
		}
	}
}

// TestOutlasted: over a full cylinder that lasts no longer than its refill takes nobody hears that every day counts, week after week, but what would help.
func TestOutlasted(t *testing.T) {
	now := time.Date(2027, 5, 16, 16, 0, 0, 0, time.UTC)
	v := Voice{Zone: time.UTC}
	s := situation(now, 5_800, 600)
	s.GrossFull, s.GrossEmpty = 15_000, 9_000
	s.BookBy, s.Earliest, s.Overdue, s.RiskNow = now, now.AddDate(0, 0, 9), true, 0.3
	const help = "A second cylinder, kept full beside it, would take the hurry out."
	n := v.Refill(s, 0)
	if want := "Time to book the next refill already: a full cylinder lasts about as long as a refill takes."; n.Headline != want {
		t.Errorf("%q, want %q", n.Headline, want)
	}
	if !strings.Contains(n.Text(), help) {
		t.Errorf("lacks %q:\n%s", help, n.Text())
	}
	s.Outlook.Gas.Mean = 2_000
	if n := v.Refill(s, 0); strings.Contains(n.Text(), help) || !strings.Contains(n.Headline, "every day counts") {
		t.Errorf("a third of a fill is left:\n%s", n.Text())
	}
}

// TestDatable: dates are told once the use is learned or guessed, and before that as soon as a week was weighed and their span is no wider than five times.
func TestDatable(t *testing.T) {
	between := func(from, to float64) runout.Distribution { // days, that hold all but a tenth on either side
		draws := make([]unit.Days, 1001)
		for i := range draws {
			draws[i] = unit.Days(from + (to-from)*(float64(i)/1000-0.1)/0.8)
		}
		return runout.FromDraws(draws)
	}
	for name, c := range map[string]struct {
		outlook forecast.Outlook
		guess   bool
		want    bool
	}{
		"nothing":      {},
		"learned":      {outlook: forecast.Outlook{Learned: true}, want: true},
		"guessed":      {guess: true, want: true},
		"narrow":       {outlook: forecast.Outlook{Watched: 7.1, RunOut: between(40, 196)}, want: true},
		"wide":         {outlook: forecast.Outlook{Watched: 7.1, RunOut: between(40, 204)}},
		"not yet week": {outlook: forecast.Outlook{Watched: 6.9, RunOut: between(40, 80)}},
	} {
		if got := (Content{Outlook: c.outlook, Guess: c.guess}).Datable(); got != c.want {
			t.Errorf("%s: dates are told: %v, want %v", name, got, c.want)
		}
	}
}
