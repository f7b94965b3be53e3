package refill

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

var monday = time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC)

// onWorkdays is a supplier that is open from Monday to Friday.
func onWorkdays(day time.Time) bool {
	return day.Weekday() != time.Saturday && day.Weekday() != time.Sunday
}

// fixed is a wait that always takes the same days.
func fixed(days int) Wait {
	w := Wait{make([]float64, days+1)}
	w.share[days] = 1
	return w
}

// certain is a run-out at exactly d days.
func certain(d unit.Days) runout.Distribution { return runout.FromDraws([]unit.Days{d}) }

// evenly is a run-out at any day of [from, to), n draws.
func evenly(from, to unit.Days, n int) runout.Distribution {
	draws := make([]unit.Days, n)
	for i := range draws {
		draws[i] = from + (to-from)*(unit.Days(i)+0.5)/unit.Days(n)
	}
	return runout.FromDraws(draws)
}

func planned(t testing.TB, p Policy, now time.Time, out runout.Distribution) Plan {
	t.Helper()
	plan, err := p.Plan(now, out)
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

func TestPlan(t *testing.T) {
	day := func(d int) time.Time { return monday.AddDate(0, 0, d) }
	every, work := Policy{Risk: 0.05, Lead: fixed(3)}, Policy{Risk: 0.05, Lead: fixed(3), Open: onWorkdays}
	holiday := work
	holiday.Open = func(d time.Time) bool { return onWorkdays(d) && d.Day() != 8 }
	rows := []struct {
		rule         string
		p            Policy
		now          time.Time
		out          runout.Distribution
		bookBy       time.Time
		arrives      time.Time
		due, overdue bool
	}{
		{"dry on day 10.5, three days: book on day 7", every, monday, certain(10.5), day(7), day(10), false, false},
		{"today is the last day", every, monday, certain(3.5), day(0), day(3), true, false},
		{"tomorrow is", every, monday, certain(4.5), day(1), day(4), false, false},
		{"arriving as it runs dry is too late", every, monday, certain(4), day(0), day(3), true, false},
		{"too late already", every, monday, certain(2), day(0), day(3), true, true},
		{"dry now", every, monday, certain(0), day(0), day(3), true, true},
		{"fifteen years on", every, monday, certain(5480.5), day(5477), day(5480), false, false},
		{"25 years on: no date", every, monday, certain(9130), time.Time{}, time.Time{}, false, false},
		{"never within the horizon", every, monday, certain(unit.Days(math.Inf(1))), time.Time{}, time.Time{}, false, false},
		{"one draw in 40 may be dry", every, monday, evenly(0, 40, 40), day(0), day(3), true, true},
		{"exactly the risk is within it", Policy{Risk: 0.1, Lead: fixed(3)}, monday, evenly(0, 40, 40), day(1), day(4), false, false},
		{"Friday's order would come on Monday", work, monday, certain(6.5), day(1), day(4), false, false},
		{"from Wednesday on the weekend is in the way", work, day(2), certain(4.5), day(2), day(7), true, true},
		{"dry on Sunday: book for Friday", work, day(1), certain(5), day(1), day(4), true, false},
		{"dry on Monday night: any day that comes by Monday", work, monday, certain(7.9), day(4), day(7), false, false},
		{"Monday is a holiday", holiday, monday, certain(7.9), day(1), day(4), false, false},
		{"on Saturday, Monday will do", work, day(5), certain(5.5), day(7), day(10), false, false},
		{"on Monday it is due", work, day(7), certain(3.5), day(7), day(10), true, false},
		{"on Saturday, Monday will be too late", work, day(5), certain(4.5), day(7), day(10), true, true},
	}
	for _, r := range rows {
		got := planned(t, r.p, r.now, r.out)
		if !got.Known || !got.BookBy.Equal(r.bookBy) || !got.Arrives.Equal(r.arrives) || got.Due != r.due || got.Overdue != r.overdue {
			t.Errorf("%s: %+v\nwant book by %v, arriving %v, due %v, overdue %v", r.rule, got, r.bookBy, r.arrives, r.due, r.overdue)
		}
	}
}

func TestPlanWithoutForecast(t *testing.T) {
	got := planned(t, Policy{Risk: 0.05, Lead: fixed(3)}, monday, runout.Distribution{})
	if got.Known || got.Due || got.Overdue || !got.BookBy.IsZero() {
		t.Errorf("a date out of nothing: %+v", got)
	}
	if !got.Earliest.Equal(monday.AddDate(0, 0, 3)) {
		t.Errorf("a refill booked now comes %v", got.Earliest)
	}
}

// A date stays the same date across a clock change: Vienna loses an hour on 28 March 2027.
func TestPlanAcrossClockChange(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Skip(err)
	}
	now := time.Date(2027, 3, 26, 8, 0, 0, 0, vienna)
	got := planned(t, Policy{Risk: 0.05, Lead: fixed(3), Location: vienna}, now.UTC(), certain(3))
	if want := time.Date(2027, 3, 29, 8, 0, 0, 0, vienna); !got.Arrives.Equal(want) || got.Overdue {
		t.Errorf("arrives %v, want %v, an hour before it is dry: %+v", got.Arrives, want, got)
	}
}

func TestPolicyMistakes(t *testing.T) {
	for _, r := range []struct {
		p    Policy
		says string
	}{
		{Policy{Risk: 0, Lead: fixed(3)}, "risk 0"},
		{Policy{Risk: 1, Lead: fixed(3)}, "risk 1"},
		{Policy{Risk: math.NaN(), Lead: fixed(3)}, "risk NaN"},
		{Policy{Risk: 0.05}, "lead time: not set"},
		{Policy{Risk: 0.05, Lead: fixed(3), Open: func(time.Time) bool { return false }}, "closed for more than 60 days from 2027-03-01"},
	} {
		if _, err := r.p.Plan(monday, certain(9)); err == nil || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%+v: %v, want %q", r.p, err, r.says)
		}
	}
}

// More risk, a shorter lead or more open days never mean booking earlier; the plan keeps its own promise, and
// is due exactly when its date has come.
func TestPlanProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draws := rapid.SliceOfN(rapid.Float64Range(0, 200), 1, 60).Draw(t, "draws")
		days := make([]unit.Days, len(draws))
		for i, d := range draws {
			days[i] = unit.Days(d)
		}
		out := runout.FromDraws(days)
		lead := rapid.IntRange(0, 20).Draw(t, "lead")
		closed := rapid.SliceOfNDistinct(rapid.IntRange(0, 6), 0, 6, rapid.ID).Draw(t, "closed")
		now := monday.AddDate(0, 0, rapid.IntRange(0, 400).Draw(t, "now"))
		p := Policy{Risk: rapid.Float64Range(0.001, 0.9).Draw(t, "risk"), Lead: fixed(lead)}
		p.Open = func(day time.Time) bool {
			for _, c := range closed {
				if time.Weekday(c) == day.Weekday() {
					return false
				}
			}
			return true
		}
		plan, err := p.Plan(now, out)
		if err != nil {
			t.Fatal(err)
		}
		later := func(what string, q Policy) {
			other, err := q.Plan(now, out)
			if err != nil {
				t.Fatal(err)
			}
			if other.BookBy.Before(plan.BookBy) && !other.FirstChance.Before(plan.FirstChance) {
				t.Errorf("%s: book by %v instead of %v", what, other.BookBy, plan.BookBy)
			}
		}
		q := p
		q.Risk = p.Risk + 0.05
		later("more risk", q)
		q = p
		q.Lead = fixed(max(0, lead-1))
		later("shorter lead", q)

		if plan.BookBy.IsZero() {
			t.Fatalf("all draws are within 200 days: %+v", plan)
		}
		arrives := plan.Arrives
		if !p.Open(plan.BookBy) || !p.Open(arrives) {
			t.Errorf("booked or delivered on a closed day: %+v", plan)
		}
		if risk := out.CDF(unit.Between(now, arrives)); !plan.Overdue && risk > p.Risk {
			t.Errorf("risk %g by the date given, %g accepted: %+v", risk, p.Risk, plan)
		}
		if due := !plan.RemindBy.After(now); due != plan.Due {
			t.Errorf("due %v, but remind by %v at %v", plan.Due, plan.RemindBy, now)
		}
		if plan.RiskLater < plan.RiskNow {
			t.Errorf("waiting lowers the risk: %+v", plan)
		}
	})
}

// Looked at once a day, the first due look books so that the promise holds and one look later would break it.
func TestDueOnceADay(t *testing.T) {
	p := Policy{Risk: 0.05, Lead: fixed(7)}
	at := func(look int) runout.Distribution { // the same law seen from each look
		return evenly(unit.Days(40-look), unit.Days(60-look), 1000)
	}
	for look := range 40 {
		now := monday.AddDate(0, 0, look)
		plan := planned(t, p, now, at(look))
		if !plan.Due {
			continue
		}
		if look != 34 { // arrival on day 41 has risk 1/20, on day 42 2/20
			t.Errorf("due at look %d, want 34", look)
		}
		if plan.Overdue || math.Abs(plan.RiskNow-0.05) > 1e-9 || math.Abs(plan.RiskLater-0.1) > 1e-9 {
			t.Errorf("%+v", plan)
		}
		return
	}
	t.Error("never due")
}

func BenchmarkPlan(b *testing.B) {
	p := Policy{Risk: 0.05, Lead: Learn(3, []Booking{{monday, monday.AddDate(0, 0, 5)}}, nil), Open: onWorkdays}
	out := evenly(100, 2000, 512)
	for b.Loop() {
		if _, err := p.Plan(monday, out); err != nil {
			b.Fatal(err)
		}
	}
}
