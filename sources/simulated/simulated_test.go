package simulated

import (
	"math"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"tarebell/forecast/unit"
)

var start = time.Date(2027, 1, 4, 6, 0, 0, 0, time.UTC)

func days(n float64) time.Time { return start.Add(time.Duration(n * 24 * float64(time.Hour))) }

// checkBalance: fills − handed back − use − losses = net, and the parts agree with their details.
func checkBalance(t interface{ Errorf(string, ...any) }, h *House) {
	v := h.Truth()
	if d := math.Abs(float64(v.Filled - v.Returned - v.Used - v.Lost - v.Net)); d > 1e-6 {
		t.Errorf("%s: balance is off by %g g", v.At, d)
	}
	if v.Net < 0 {
		t.Errorf("%s: net gas is %v", v.At, v.Net)
	}
	var lost unit.Grams
	for _, l := range v.Losses {
		lost += l.Lost
	}
	if math.Abs(float64(lost-v.Lost)) > 1e-6 {
		t.Errorf("%s: losses %v of %v", v.At, lost, v.Lost)
	}
}

// TestMassBalance plays random houses to which anything may happen.
func TestMassBalance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := New(Options{Seed: rapid.Uint64().Draw(t, "seed"), Start: start, NetFill: 2000, Use: 60})
		now := start
		for range rapid.IntRange(1, 12).Draw(t, "steps") {
			now = now.Add(time.Duration(rapid.IntRange(0, 20*24).Draw(t, "hours")) * time.Hour)
			rate := unit.GramsPerHour(rapid.Float64Range(0, 200).Draw(t, "rate"))
			switch rapid.IntRange(0, 7).Draw(t, "what") {
			case 0:
				h.Fill(now, unit.Grams(rapid.Float64Range(0, 9000).Draw(t, "fill")))
			case 1:
				h.CloseValve(now)
			case 2:
				h.OpenValve(now)
			case 3:
				h.Repair(now)
			case 4:
				h.Happen(Incident{At: now, What: LeakBegins, Rate: rate})
			case 5:
				h.Happen(Incident{At: now, What: ValveLeftOpen, Rate: rate, For: 30 * time.Hour})
			case 6:
				h.Happen(Incident{At: now, What: Party, Servings: 20, For: 5 * time.Hour})
			case 7:
				h.GrossAt(now)
			}
			checkBalance(t, h)
		}
	})
}

// TestPollingChangesNothing: the same seed gives the same truth and the same readings, however often and
// through whatever the house is asked.
func TestPollingChangesNothing(t *testing.T) {
	for seed := range uint64(6) {
		opt := Options{Seed: seed, Start: start, NetFill: 3000, Script: []Incident{
			{At: days(40), What: LeakBegins, Rate: 3}, {At: days(20), What: Party, Servings: 30, For: 4 * time.Hour}}}
		often, seldom := New(opt), New(opt)
		for d := 1.0; d <= 90; d++ {
			for m := 0.0; m < 1; m += 1. / 48 {
				often.GrossAt(days(d - 1 + m))
			}
			if int(d)%10 != 0 {
				continue
			}
			a, okA := often.GrossAt(days(d))
			b, okB := seldom.GrossAt(days(d))
			if a != b || okA != okB {
				t.Errorf("seed %d, day %v: %v and %v", seed, d, a, b)
			}
		}
		a, b := often.Truth(), seldom.Truth()
		near := cmp.Comparer(func(a, b unit.Grams) bool { return math.Abs(float64(a-b)) < 1e-6 })
		if diff := cmp.Diff(a, b, near); diff != "" {
			t.Errorf("seed %d: polled often (-) or seldom (+):\n%s", seed, diff)
		}
	}
}

func TestSeedsDiffer(t *testing.T) {
	a, b := New(Options{Seed: 1, Start: start, Use: 40}), New(Options{Seed: 2, Start: start, Use: 40})
	if a.TrueNet(days(60)) == b.TrueNet(days(60)) {
		t.Error("two seeds gave the same house")
	}
}

// TestDemandDoesNotSeeTheCylinder: a refill or a shut valve does not change what people want later.
func TestDemandDoesNotSeeTheCylinder(t *testing.T) {
	opt := Options{Seed: 3, Start: start, NetFill: 50_000, Use: 50}
	plain, other := New(opt), New(opt)
	other.CloseValve(days(10))
	other.OpenValve(days(20))
	other.Fill(days(30), 50_000)
	from := days(40)
	a, b := plain.TrueNet(from), other.TrueNet(from)
	if got, want := b-other.TrueNet(days(100)), a-plain.TrueNet(days(100)); math.Abs(float64(got-want)) > 1e-6 {
		t.Errorf("used %v after a refill, %v without", got, want)
	}
	if a <= 0 || b <= 0 || other.Truth().Servings >= plain.Truth().Servings {
		t.Error("nobody missed anything in ten days with the valve shut")
	}
}

// nobody is a house in which nobody draws.
func nobody(o Options) *House {
	script := o.Script
	o.Start, o.Script = start, nil
	h := New(o)
	h.due = nil
	for _, i := range script {
		h.plan(i.At, func() { h.happen(i) })
	}
	return h
}

func TestLeakIsExact(t *testing.T) {
	h := nobody(Options{NetFill: 5000, Heel: 130, Script: []Incident{
		{At: days(1), What: LeakBegins, Rate: 2},
		{At: days(3), What: ValveLeftOpen, Rate: 100, For: 5 * time.Hour},
	}})
	check := func(when string, at time.Time, want unit.Grams) {
		t.Helper()
		if got := h.TrueNet(at); math.Abs(float64(got-want)) > 1e-6 {
			t.Errorf("%s: net is %v, want %v", when, got, want)
		}
	}
	check("before", days(1), 5000)
	check("two days of 2 g/h", days(3), 5000-96)
	check("five hours of 102 g/h, seven of 2", days(3.5), 5000-96-5*102-7*2)
	h.CloseValve(days(4))
	check("valve shut", days(10), 5000-96-500-24*2)
	h.OpenValve(days(10))
	check("open again", days(11), 5000-96-500-48*2)
	h.Repair(days(11))
	check("repaired", days(30), 4308)
	h.Happen(Incident{At: days(30), What: ValveLeftOpen, Rate: 50})
	h.CloseValve(days(31))
	h.OpenValve(days(31))
	check("left open until the valve was shut", days(40), 4308-1200)
	h.Happen(Incident{At: days(40), What: LeakBegins, Rate: 54})
	check("empty", days(60), 0)

	v := h.Truth()
	if len(v.Losses) != 4 || math.Abs(float64(v.Losses[0].Lost)-192) > 1e-6 || !v.Losses[0].To.Equal(days(11)) ||
		!v.Losses[1].To.Equal(days(3).Add(5*time.Hour)) || !v.Losses[2].To.Equal(days(31)) || !v.Losses[3].To.IsZero() {
		t.Errorf("losses are %+v", v.Losses)
	}
	checkBalance(t, h)
}

// TestRunOut: servings stop at the heel, to the gram, and begin again with the next cylinder.
func TestRunOut(t *testing.T) {
	h := New(Options{Seed: 5, Start: start, NetFill: 1000, Heel: 120, Use: 60})
	if net := h.TrueNet(days(400)); math.Abs(float64(net-120)) > 1e-6 {
		t.Errorf("net is %v after the run-out, want the heel", net)
	}
	before := h.Truth().Used
	h.Fill(days(400), 1000)
	if net := h.TrueNet(days(800)); math.Abs(float64(net-120)) > 1e-6 || math.Abs(float64(h.Truth().Used-before-880)) > 1e-6 {
		t.Errorf("net is %v, %v used of the second cylinder", net, h.Truth().Used-before)
	}
}

// TestDaysAreLocal: clock changes neither lose nor repeat a day.
func TestDaysAreLocal(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	h := New(Options{Seed: 1, Start: time.Date(2027, 3, 1, 6, 0, 0, 0, vienna), NetFill: 90_000})
	h.TrueNet(time.Date(2027, 12, 1, 6, 0, 0, 0, vienna))
	if got, want := len(h.Truth().DailyNet), 31+30+31+30+31+31+30+31+30; got != want {
		t.Errorf("%d midnights, want %d", got, want)
	}
}

func BenchmarkHouse(b *testing.B) {
	b.Run("year", func(b *testing.B) {
		b.ReportAllocs()
		for i := 0; b.Loop(); i++ {
			New(Options{Seed: uint64(i), Start: start}).TrueNet(days(365))
		}
	})
	b.Run("reading", func(b *testing.B) {
		b.ReportAllocs()
		h := New(Options{Seed: 1, Start: start, NetFill: 1e9})
		for i := 0; b.Loop(); i++ {
			h.GrossAt(start.Add(time.Duration(i) * 10 * time.Minute))
		}
	})
}
