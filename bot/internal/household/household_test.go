package household

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

var start = time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)

// options is a club kitchen with one 6 kg cylinder, a weekly status on Sundays at six and a look at eight.
func options() Options {
	return Options{
		Voice: notice.Voice{Zone: time.UTC}, ReviewHour: 8,
		NextStatus: func(t time.Time) time.Time {
			day := time.Date(t.Year(), t.Month(), t.Day(), 18, 0, 0, 0, time.UTC)
			for day.Weekday() != time.Sunday || !day.After(t) {
				day = day.AddDate(0, 0, 1)
			}
			return day
		},
		Cylinders: []Cylinder{{Name: "main", SilentAfter: 6 * time.Hour,
			Forecast: forecast.Options{Tare: 9_000, Fittings: 1_000, NetFill: 6_000, Seed: 1}}},
		Refill: Refill{Refill: record.Refill{LeadDays: 3, Risk: 0.05}},
	}
}

// readings makes hourly readings of a household that uses perDay grams between 8 and 22 o'clock.
func readings(from time.Time, days int, gas, perDay float64) []record.Event {
	r := rand.New(rand.NewPCG(1, 2))
	var out []record.Event
	for h := 0; h < 24*days; h++ {
		at := from.Add(time.Duration(h) * time.Hour)
		if at.Hour() >= 8 && at.Hour() < 22 {
			gas -= perDay / 14 * 2 * r.Float64()
		}
		out = append(out, record.Event{Kind: record.Weighed, Cylinder: "main", At: at, Gross: unit.Grams(10_000 + gas + 8*r.NormFloat64())})
	}
	return out
}

func feedAll(e *Engine, ws []record.Event) []notice.Notice {
	var out []notice.Notice
	for _, w := range ws {
		out = append(out, e.Apply(w)...)
	}
	return out
}

// losing is a household after 20 days of use, of which then 180 g an hour escape for some hours, and what it was told of that.
func losing(hours int) (e *Engine, said []notice.Notice) {
	e = New(options())
	ws := readings(start, 20, 5_900, 55)
	feedAll(e, ws)
	last := ws[len(ws)-1]
	for range hours {
		last.At, last.Gross = last.At.Add(time.Hour), last.Gross-180
		said = append(said, e.Apply(last)...)
	}
	return e, said
}

func ofKind(ns []notice.Notice, kinds ...notice.Kind) []notice.Notice {
	return slices.DeleteFunc(slices.Clone(ns), func(n notice.Notice) bool { return !slices.Contains(kinds, n.Kind) })
}

func TestLifeOfACylinder(t *testing.T) {
	e := New(options())
	said := feedAll(e, readings(start, 107, 5_900, 55))
	status := ofKind(said, notice.WeeklyStatus)
	if len(status) != 15 {
		t.Errorf("%d weekly statuses in 107 days, want 15", len(status))
	}
	for _, n := range status {
		if n.At.Weekday() != time.Sunday || n.At.Hour() != 18 {
			t.Errorf("status at %s, want Sunday 18:00", n.At)
		}
	}
	due := ofKind(said, notice.RefillDue)
	if len(due) == 0 {
		t.Fatal("the gas ran out and nobody was reminded")
	}
	gone := start.Add(time.Duration(5_900 / 55.0 * 24 * float64(time.Hour)))
	if ahead := gone.Sub(due[0].At).Hours() / 24; ahead < 3 || ahead > 25 {
		t.Errorf("first reminder %.1f days before the end, want 3 to 25", ahead)
	}
	for _, n := range due[1:] {
		if n.Follows != due[0].Key {
			t.Errorf("reminder at %s stands alone, want it to follow %s", n.At, due[0].Key)
		}
	}
	if leaks := ofKind(said, notice.PossibleLeak); len(leaks) > 0 {
		t.Errorf("ordinary use alarmed: %s", leaks[0].Text())
	}
}

// TestRecordWeek: a week in which far more went than in any before is told in its weekly status, once, if there are weeks to compare it with.
func TestRecordWeek(t *testing.T) {
	for _, c := range []struct{ weeks, told int }{{7, 1}, {2, 0}} {
		calm := 7*c.weeks + 1
		ws := readings(start, calm, 5_900, 30)
		gas := float64(ws[len(ws)-1].Gross) - 10_000
		ws = append(ws, readings(ws[len(ws)-1].At.Add(time.Hour), 16, gas, 75)...)
		told := 0
		for _, n := range ofKind(feedAll(New(options()), ws), notice.WeeklyStatus) {
			if strings.Contains(n.Text(), "More went than in any week before") {
				told++
			}
		}
		if told != c.told {
			t.Errorf("after %d weeks: told %d times, want %d", c.weeks, told, c.told)
		}
	}
}

func TestKeysAreUnique(t *testing.T) {
	e := New(options())
	seen := map[string]bool{}
	for _, n := range feedAll(e, readings(start, 107, 5_900, 55)) {
		if seen[n.Key] {
			t.Errorf("key %q twice", n.Key)
		}
		seen[n.Key] = true
	}
}

// TestSameInputSameOutput, and time that passes in small steps says the same as time that passes in one.
func TestSameInputSameOutput(t *testing.T) {
	tell := func(steps bool) string {
		e := New(options())
		var b strings.Builder
		for _, w := range readings(start, 60, 5_900, 55) {
			if steps {
				for at := e.Next(); !at.IsZero() && at.Before(w.At); at = e.Next() {
					for _, n := range e.Advance(at) {
						fmt.Fprintln(&b, n.At, n.Key, n.Text())
					}
				}
			}
			for _, n := range e.Apply(w) {
				fmt.Fprintln(&b, n.At, n.Key, n.Text())
			}
		}
		return b.String()
	}
	a := tell(false)
	if a == "" {
		t.Fatal("nothing was said")
	}
	if b := tell(true); a != b {
		t.Error("small steps say something else than large ones")
	}
}

// TestSleep: several statuses missed in one leap come as one, the last.
func TestSleep(t *testing.T) {
	e := New(options())
	feedAll(e, readings(start, 10, 5_900, 55))
	said := ofKind(e.Advance(start.AddDate(0, 0, 33)), notice.WeeklyStatus)
	if len(said) != 1 {
		t.Fatalf("%d statuses after three weeks asleep, want 1", len(said))
	}
	if want := time.Date(2027, 3, 28, 18, 0, 0, 0, time.UTC); !said[0].At.Equal(want) {
		t.Errorf("the one of %s came, want the one of %s", said[0].At, want)
	}
}

// TestPauseForgotten: a pause that is forgotten after it was counted makes a silence overdue, which is told at once; time does not go back, and whoever goes from
// one moment to the next does not stand still.
func TestPauseForgotten(t *testing.T) {
	o := options()
	e := New(o)
	feedAll(e, readings(start, 3, 5_900, 55))
	last := e.Now()
	now := last.Add(o.Cylinders[0].SilentAfter + 3*24*time.Hour)
	e.Paused([]Pause{{From: last, To: now}})
	e.Advance(now)
	e.Paused(nil)
	if next := e.Next(); !next.Equal(now) {
		t.Errorf("the next moment is %s, want %s at once", next, now)
	}
	if said := ofKind(e.Advance(e.Next()), notice.ScaleSilent); len(said) != 1 {
		t.Errorf("told %d times that the scale is silent, want once", len(said))
	}
	if next := e.Next(); !next.After(now) || !e.Now().Equal(now) {
		t.Errorf("it is %s, and the next moment is %s", e.Now(), next)
	}
}

func TestSilentScaleIsToldOnce(t *testing.T) {
	e := New(options())
	ws := readings(start, 10, 5_900, 55)
	feedAll(e, ws)
	last := ws[len(ws)-1].At
	said := ofKind(e.Advance(last.AddDate(0, 0, 5)), notice.ScaleSilent)
	if len(said) != 1 {
		t.Fatalf("told %d times, want once", len(said))
	}
	if want := last.Add(6 * time.Hour); !said[0].At.Equal(want) {
		t.Errorf("told at %s, want %s", said[0].At, want)
	}
	more := readings(last.AddDate(0, 0, 5), 2, 5_000, 55)
	feedAll(e, more)
	if again := ofKind(e.Advance(more[len(more)-1].At.AddDate(0, 0, 1)), notice.ScaleSilent); len(again) != 1 {
		t.Errorf("a second silence was told %d times, want once", len(again))
	}
}

func TestBookedSilencesReminders(t *testing.T) {
	e := New(options())
	var first notice.Notice
	for _, w := range readings(start, 107, 5_900, 55) {
		said := ofKind(e.Apply(w), notice.RefillDue)
		switch {
		case first.Key == "" && len(said) > 0:
			first = said[0]
			e.Apply(record.Event{At: w.At.Add(time.Minute), Kind: record.Booked, Day: w.At.AddDate(0, 0, 4), By: "Ines"})
		case len(said) > 0 && said[0].Severity > notice.Info && w.At.Before(first.At.AddDate(0, 0, 5)):
			t.Fatalf("reminded at %s although it is booked", w.At)
		}
	}
	if first.Key == "" {
		t.Fatal("nobody was reminded at all")
	}
	s, _ := e.Situation("main", e.Now())
	if s.Carrier != "Ines" {
		t.Errorf("carrier %q, want who booked", s.Carrier)
	}
}

func TestOpenValve(t *testing.T) {
	e, said := losing(12)
	leaks := ofKind(said, notice.PossibleLeak)
	if len(leaks) == 0 {
		t.Fatal("180 g an hour through a night alarmed nobody")
	}
	if leaks[0].Severity != notice.Danger || leaks[0].Follows != "" {
		t.Errorf("first alert %+v, want a danger of its own", leaks[0])
	}
	for _, n := range leaks[1:] {
		if n.Follows != leaks[0].Key {
			t.Errorf("alert at %s is announced as a new one", n.At)
		}
	}
	if len(leaks) < 3 {
		t.Errorf("%d alerts in half a day without an answer, want repeats", len(leaks))
	}
	e.Apply(record.Event{At: e.Now(), Kind: record.Answer, Cause: record.Lost, By: "Joon"})
	if more := ofKind(e.Advance(e.Now().AddDate(0, 0, 2)), notice.PossibleLeak); len(more) > 0 {
		t.Errorf("repeated %d times after the answer", len(more))
	}
}

func TestRetestIsToldTwoMonthsAhead(t *testing.T) {
	o := options()
	o.Cylinders[0].Retest = time.Date(2027, 6, 1, 0, 0, 0, 0, time.UTC)
	e := New(o)
	said := ofKind(feedAll(e, readings(start, 107, 5_900, 55)), notice.RetestDue)
	if len(said) != 2 {
		t.Fatalf("told %d times, want two months ahead and when due", len(said))
	}
	if m := said[0].At.Month(); m != time.April {
		t.Errorf("first told in %s, want April", m)
	}
}

func TestPastIsIgnored(t *testing.T) {
	e := New(options())
	feedAll(e, readings(start, 5, 5_900, 55))
	now := e.Now()
	if said := e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: now.Add(-time.Hour), Gross: 1}); said != nil || !e.Now().Equal(now) {
		t.Error("a weighing of the past moved the engine")
	}
	if said := e.Apply(record.Event{Kind: record.Weighed, Cylinder: "other", At: now.Add(time.Hour), Gross: 1}); said != nil {
		t.Error("a cylinder that is not there said something")
	}
}

// TestScaleThatNeverAnswered is told once, too.
func TestScaleThatNeverAnswered(t *testing.T) {
	o := options()
	o.Cylinders[0].Scale = true
	e := New(o)
	e.Advance(start)
	said := ofKind(e.Advance(start.AddDate(0, 0, 3)), notice.ScaleSilent)
	if len(said) != 1 || !said[0].At.Equal(start.Add(6*time.Hour)) {
		t.Fatalf("told %v, want once after six hours", said)
	}
	if want := "has not answered yet"; !strings.Contains(said[0].Headline, want) {
		t.Errorf("headline %q, want it to say that the scale %s", said[0].Headline, want)
	}
}
