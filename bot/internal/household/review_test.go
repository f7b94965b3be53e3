package household

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// TestExplained against a simulation (seed 5): gas and use jointly normal, the use since the last weight in both; how much of the
// variance of the date the best linear guess from the coming weight takes away. To first order in the use, so within a tenth.
func TestExplained(t *testing.T) {
	now := time.Date(2027, 5, 16, 8, 0, 0, 0, time.UTC)
	r := rand.New(rand.NewPCG(5, 0))
	for _, c := range []struct{ gas, sharp, use, useSD, age, wait float64 }{
		{2000, 100, 100, 10, 14, 2}, {2000, 100, 100, 10, 40, 2}, {900, 150, 50, 4, 20, 3}, {900, 80, 120, 10, 7, 1},
	} {
		const n = 40_000
		var sy, st, syy, stt, syt, sm, smm float64
		dates := make([]unit.Days, n)
		for i := range n {
			u := c.use + c.useSD*r.NormFloat64()
			m := c.gas + c.sharp*r.NormFloat64() - c.age*(u-c.use)
			y := m - u*c.wait + c.sharp*r.NormFloat64()
			d := c.gas/c.use + (m-c.gas)/c.use - c.gas/c.use*(u-c.use)/c.use
			dates[i] = unit.Days(d)
			sy, st, syy, stt, syt, sm, smm = sy+y, st+d, syy+y*y, stt+d*d, syt+y*d, sm+m, smm+m*m
		}
		cov := func(xy, x, y float64) float64 { return xy/n - x/n*y/n }
		want := math.Abs(cov(syt, sy, st)) / math.Sqrt(cov(syy, sy, sy))
		o := forecast.Outlook{At: now, LastSeen: now.Add(-time.Duration(c.age * 24 * float64(time.Hour))), Use: forecast.Normal{Mean: c.use, SD: c.useSD},
			Gas: forecast.Normal{Mean: c.gas, SD: math.Sqrt(cov(smm, sm, sm))}, RunOut: runout.FromDraws(dates)}
		if got := float64(explained(o, c.wait, c.sharp)); math.Abs(got-want) > 0.1*want {
			t.Errorf("%+v: %.2f days, by simulation %.2f", c, got, want)
		}
	}
}

// typed is a household of some grams a day that weighs every so many days, until it is asked for something.
func typedUntil(t *testing.T, every, days int, gas unit.Grams, perDay float64, kinds ...notice.Kind) (*Engine, notice.Notice) {
	t.Helper()
	e := New(options())
	house := unit.Grams(10_000)
	for d := 0; d < days; d += every {
		at := start.AddDate(0, 0, d)
		left := max(0, gas-unit.Grams(perDay*float64(d)))
		said := e.Advance(at)
		said = append(said, e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: at, Gross: unit.Grams(math.Round(float64(house+left)/100) * 100), Origin: record.Manual})...)
		for _, k := range kinds {
			if n := ofKind(said, k); len(n) > 0 {
				return e, n[0]
			}
		}
	}
	t.Fatal("nobody was asked for anything")
	return e, notice.Notice{}
}

// TestWeightBeforeBooking: whose last weight is old is asked for one before they are sent to book; a weight that shows time ends
// the matter, one that does not brings the reminder.
func TestWeightBeforeBooking(t *testing.T) {
	e, first := typedUntil(t, 21, 400, 5_900, 40, notice.WeighDue, notice.RefillDue)
	if first.Kind != notice.WeighDue {
		t.Fatalf("first %s: %s", first.Kind, first.Headline)
	}
	s, _ := e.Situation("", e.Now())
	if s.Decision.At.IsZero() {
		t.Error("no decision is kept")
	}
}
