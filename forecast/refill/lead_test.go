package refill

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
)

// took makes bookings that took so many days, made on Mondays.
func took(days ...int) (past []Booking) {
	for i, d := range days {
		at := monday.AddDate(0, 0, 28*i)
		past = append(past, Booking{at, at.AddDate(0, 0, d)})
	}
	return past
}

func TestLearn(t *testing.T) {
	open := onWorkdays
	rows := []struct {
		rule   string
		lead   Wait
		median int
		p95    int
	}{
		{"no booking yet: the answer, or late", Learn(3, nil, nil), 3, 4},
		{"twelve as answered", Learn(3, took(3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3), nil), 3, 3},
		{"one that took a week", Learn(3, took(7), nil), 3, 7},
		{"always a week: the answer fades", Learn(3, took(7, 7, 7, 7, 7, 7), nil), 7, 7},
		{"one in eight is very late", Learn(3, took(3, 3, 3, 14, 3, 3, 3, 3), nil), 3, 14},
		{"three days from Thursday come on Monday, and are still three", Learn(3, []Booking{{monday.AddDate(0, 0, 3), monday.AddDate(0, 0, 7)}}, open), 3, 4},
		{"Monday to next Monday may have been five", Learn(3, took(7, 7, 7, 7, 7, 7), open), 5, 5},
		{"arrived before it was booked: a mistake", Learn(3, took(-4), nil), 3, 4},
		{"ten months can happen", Learn(3, took(300), nil), 3, 300},
		{"fifteen months: a mistake", Learn(3, took(450), nil), 3, 4},
		{"only the last twenty count", Learn(3, took(append([]int{90, 90, 90}, make([]int, 20)...)...), nil), 0, 3},
		{"slow in the first eight of them", Learn(3, took(append(slices.Repeat([]int{14}, 8), slices.Repeat([]int{3}, 12)...)...), nil), 3, 14},
	}
	for _, r := range rows {
		if m, q := r.lead.Median(), r.lead.Quantile(0.95); m != r.median || q != r.p95 {
			t.Errorf("%s: median %d, 95 %% %d; want %d, %d (%v)", r.rule, m, q, r.median, r.p95, r.lead.share)
		}
	}
}

// The answer outweighs two refills that took longer, not three; a refill that comes late is mostly some days late, hardly ever two weeks.
func TestLearnLate(t *testing.T) {
	if two, three := Learn(3, took(10, 10), nil).Median(), Learn(3, took(10, 10, 10), nil).Median(); two > 4 || three < 5 {
		t.Errorf("median after two of ten days %d, after three %d", two, three)
	}
	l := Learn(3, nil, nil)
	if late := l.Quantile(0.99) - 3; late < 3 || late > 6 {
		t.Errorf("one in a hundred is late by more than %d days", late)
	}
	if late := l.Quantile(1) - 3; late < 7 || late > 14 {
		t.Errorf("none is late by more than %d days", late)
	}
}

func TestLeadIsADistribution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		past := took(rapid.SliceOfN(rapid.IntRange(-2, 400), 0, 30).Draw(t, "took")...)
		l := Learn(rapid.IntRange(-5, 500).Draw(t, "answer"), past, nil)
		sum := 0.0
		for _, share := range l.share {
			if share < 0 {
				t.Fatalf("share %g", share)
			}
			sum += share
		}
		if math.Abs(sum-1) > 1e-12 {
			t.Errorf("sums to %g", sum)
		}
		if l.Quantile(0.1) > l.Median() || l.Median() > l.Quantile(0.9) || l.Mean() < 0 {
			t.Errorf("quantiles out of order: %v", l.share)
		}
	})
}

// Before anything is known one in three is expected to take more than a day; later what happened counts, whatever its shape.
func TestLearnDelay(t *testing.T) {
	at := func(l Wait, d int) float64 { // the probability of more than d days
		sum := 0.0
		for _, share := range l.share[min(d+1, len(l.share)):] {
			sum += share
		}
		return sum
	}
	midnight := monday.Add(-8 * time.Hour)
	for d, want := range map[int]float64{0: 1. / 3, 4: 0.0301} { // the source's two thirds; (2.261/7.261)³ by hand
		if got := at(LearnDelay(nil, midnight), d); math.Abs(got-want) > 1e-4 {
			t.Errorf("more than %d days: %g, want %g", d, got, want)
		}
	}
	if got, want := at(LearnDelay(nil, monday), 0), math.Pow(actsScale/(actsScale+16./24), actsShape); math.Abs(got-want) > 1e-12 {
		t.Errorf("asked at 8, not on the same day: %g, want %g", got, want)
	}
	for _, days := range []int{0, 1, 3, 6} {
		var past []Acted
		for i := range 20 {
			asked := monday.AddDate(0, 0, 30*i)
			past = append(past, Acted{asked, asked.AddDate(0, 0, days)})
		}
		if l := LearnDelay(past, monday); l.Median() != days || l.Quantile(0.9) > 2*days+1 {
			t.Errorf("always %d days: median %d, nine in ten %d", days, l.Median(), l.Quantile(0.9))
		}
	}
	after := func(days int) Wait { return LearnDelay([]Acted{{monday, monday.AddDate(0, 0, days)}}, midnight) }
	if month, season := after(30).Quantile(0.95), after(90).Quantile(0.95); month < 28 || season > 50 {
		t.Errorf("95 in 100 days: %d after a month away; %d after a season, by when reminders were repeated many times", month, season)
	}
	strange := []Acted{{monday, monday.AddDate(0, 0, -3)}, {monday, monday.AddDate(1, 0, 0)}}
	if sum := at(LearnDelay(strange, monday), -1); math.Abs(sum-1) > 1e-12 {
		t.Errorf("sums to %g", sum)
	}
}

// Calendar days do not care about clock changes or the time of day.
func TestCivilDays(t *testing.T) {
	zone := time.FixedZone("", -11*3600)
	a := time.Date(2027, 3, 27, 23, 59, 0, 0, zone)
	if d := civilDays(a, time.Date(2027, 3, 29, 0, 1, 0, 0, zone)); d != 2 {
		t.Errorf("%d days, want 2", d)
	}
	if d := civilDays(a, a); d != 0 {
		t.Errorf("%d days, want 0", d)
	}
}

// A lead time that may be late books earlier than one that never is.
func TestUncertainLeadBooksEarlier(t *testing.T) {
	out := evenly(40, 60, 1000)
	sure := planned(t, Policy{Risk: 0.05, Lead: fixed(7)}, monday, out)
	slow := planned(t, Policy{Risk: 0.05, Lead: fixed(7), Delay: LearnDelay(nil, monday)}, monday, out)
	if !slow.BookBy.Equal(sure.BookBy) || !slow.RemindBy.Before(sure.RemindBy) {
		t.Errorf("people who wait: %+v, people who don't: %+v", slow, sure)
	}
	vague := planned(t, Policy{Risk: 0.05, Lead: Learn(7, took(7, 7, 21, 7), nil)}, monday, out)
	if !vague.BookBy.Before(sure.BookBy) {
		t.Errorf("book by %v with a supplier that is late at times, %v otherwise", vague.BookBy, sure.BookBy)
	}
	if left := unit.Between(vague.BookBy, sure.BookBy); left > 14 {
		t.Errorf("%v days earlier for one delay of 14", left)
	}
}
