package forecast

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// steady plays an ordinary household for benchmarks: one reading every ten minutes.
type steady struct {
	r   *rand.Rand
	at  time.Time
	gas float64
	opt Options
}

func newSteady() *steady {
	return &steady{
		r: rand.New(rand.NewPCG(3, 4)), at: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), gas: 22000,
		opt: Options{Tare: 30000, Fittings: 1000, NetFill: 22680, Seed: 1},
	}
}

func (s *steady) next() record.Event {
	s.at = s.at.Add(10 * time.Minute)
	if h := s.at.Hour(); h >= 7 && h < 23 && s.r.Float64() < 0.02 {
		s.gas -= 6
	}
	return record.Event{Kind: record.Weighed, At: s.at, Gross: unit.Grams(31000 + s.gas + 20*s.r.NormFloat64()), Temp: 20, HasTemp: true}
}

// run weighs n times and returns what was found.
func (s *steady) run(c *Cylinder, n int) (found []Finding) {
	for range n {
		found = append(found, c.Apply(s.next())...)
	}
	return found
}

func BenchmarkWeigh(b *testing.B) {
	s := newSteady()
	c := New(s.opt)
	s.run(c, 5000)
	b.ReportAllocs()
	for b.Loop() {
		c.Apply(s.next())
	}
}

func BenchmarkOutlook(b *testing.B) {
	s := newSteady()
	c := New(s.opt)
	s.run(c, 5000)
	b.ReportAllocs()
	for b.Loop() {
		c.Outlook(s.at)
	}
}

// BenchmarkSevenYears replays 368,000 readings and a forecast a day.
func BenchmarkSevenYears(b *testing.B) {
	for b.Loop() {
		s := newSteady()
		c := New(s.opt)
		for i := range 368000 {
			c.Apply(s.next())
			if i%144 == 143 {
				c.Outlook(s.at)
			}
		}
	}
}

func TestWeighDoesNotAllocate(t *testing.T) {
	s := newSteady()
	c := New(s.opt)
	s.run(c, 5000)
	if n := testing.AllocsPerRun(2000, func() { c.Apply(s.next()) }); n > 0 {
		t.Errorf("%.2f allocations a reading", n)
	}
}

func TestSameInputSameOutput(t *testing.T) {
	run := func() []Finding { return fare(newHome(7, "medium")).alarms }
	a, b := run(), run()
	if len(a) != len(b) || len(a) == 0 {
		t.Fatalf("%d and %d findings", len(a), len(b))
	}
	for i := range a {
		if a[i] != b[i] {
			t.Errorf("finding %d: %+v and %+v", i, a[i], b[i])
		}
	}
}

func TestBackwardsIsIgnored(t *testing.T) {
	s := newSteady()
	c := New(s.opt)
	s.run(c, 200)
	before := c.Outlook(s.at)
	if f := c.Apply(record.Event{Kind: record.Weighed, At: s.at.Add(-time.Hour), Gross: 1}); len(f) != 0 {
		t.Errorf("found %v", f)
	}
	if after := c.Outlook(s.at); after.Gas != before.Gas {
		t.Errorf("gas %v became %v", before.Gas, after.Gas)
	}
}

// leaking plays a steady household until gas leaves at rate g/h and a loss is told.
func leaking(t *testing.T, rate float64) (*Cylinder, *steady, Finding) {
	t.Helper()
	s := newSteady()
	c := New(s.opt)
	for range 30 * 144 {
		if f := c.Apply(s.next()); len(f) > 0 {
			t.Fatalf("found %+v before anything happened", f)
		}
	}
	for range 144 {
		s.gas -= rate / 6
		for _, f := range c.Apply(s.next()) {
			if f.Kind == AbruptLoss {
				return c, s, f
			}
		}
	}
	t.Fatal("no loss told within a day")
	return nil, nil, Finding{}
}

// TestAnswers plays each answer to a loss of 300 g/h that goes on for two hours after it was told.
func TestAnswers(t *testing.T) {
	for _, c := range []struct {
		name  string
		cause record.Cause
		told  bool // LossStopped at once
		loss  bool // still believed after
	}{
		{"we used it", record.Used, false, false},
		{"moved", record.Moved, false, false},
		{"gas lost", record.Lost, false, true},
		{"repaired", record.Repaired, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			cyl, s, f := leaking(t, 300)
			if f.Rate < 200 || f.Rate > 400 || f.Mass <= 0 || f.MassSD <= 0 || !f.Since.Before(f.At) {
				t.Errorf("told %+v", f)
			}
			got := cyl.Apply(record.Event{At: s.at, Kind: record.Answer, Cause: c.cause})
			if told := len(got) == 1 && got[0].Kind == LossStopped; told != c.told {
				t.Errorf("told %v", got)
			}
			if loss := cyl.Outlook(s.at).Loss.Mean > 0; loss != c.loss {
				t.Errorf("loss believed: %v", loss)
			}
		})
	}
}

// TestStopped demands that the end of a loss is noticed within hours and told with the mass lost.
func TestStopped(t *testing.T) {
	c, s, first := leaking(t, 300)
	lost := 0.0
	for range 12 { // two hours more
		s.gas -= 50
		for _, f := range c.Apply(s.next()) {
			t.Errorf("told again: %+v", f)
		}
	}
	lost = float64(first.Mass) + 600
	for i := range 60 {
		got := c.Apply(s.next())
		if len(got) == 0 {
			continue
		}
		f := got[0]
		if f.Kind != LossStopped || i > 24 {
			t.Fatalf("after %d readings: %+v", i, f)
		}
		if f.Mass < unit.Grams(0.7*lost) || f.Mass > unit.Grams(1.4*lost) || !f.Since.Equal(first.Since) {
			t.Errorf("lost %.0f ± %.0f g since %v, want about %.0f since %v", f.Mass, f.MassSD, f.Since, lost, first.Since)
		}
		return
	}
	t.Error("the end was not noticed")
}

// TestWorse demands that a loss that grows tenfold is told once more, as the same event.
func TestWorse(t *testing.T) {
	c, s, first := leaking(t, 150)
	for range 60 {
		s.gas -= 1500 / 6.
		f := c.Apply(s.next())
		if len(f) == 0 {
			continue
		}
		if f[0].Kind != AbruptLoss || !f[0].Since.Equal(first.Since) {
			t.Fatalf("found %+v", f)
		}
		return
	}
	t.Error("not told that it got worse")
}

// TestFallAnswered: a fall in one interval that stays is a step until somebody says it was gas; what fell while nobody looked for half a day counts as
// gas, until somebody says that something else changed.
func TestFallAnswered(t *testing.T) {
	for _, r := range []struct {
		silence    time.Duration
		fell       float64
		want       FindingKind
		gone       float64 // g, of the gas
		answer     record.Cause
		gone2, tol float64 // g, after the answer
	}{
		{0, 1200, ZeroStep, 0, record.Lost, 1200, 300},
		{30 * time.Hour, 2500, Fell, 2500, record.Moved, 0, 250},
		{30 * time.Hour, 2500, Fell, 2500, record.Used, 2500, 250},
		{0, 21_600, ZeroStep, 0, record.Used, 21_600, 300},                // to an empty cylinder, faster than gas can leave
		{9 * time.Hour, 21_600, AbruptLoss, 21_600, record.Moved, 0, 300}, // in its own time
		{9 * time.Hour, 21_600, AbruptLoss, 21_600, record.Used, 21_600, 300},
		{9 * time.Hour, 21_600, AbruptLoss, 21_600, record.Lost, 21_600, 300},
		{9 * time.Hour, 21_600, AbruptLoss, 21_600, record.Repaired, 21_600, 300},
	} {
		s := newSteady()
		c := New(s.opt)
		s.run(c, 1000)
		before := c.Outlook(s.at).Gas.Mean
		s.at, s.gas = s.at.Add(r.silence), s.gas-r.fell
		if found := s.run(c, 20); len(found) != 1 || found[0].Kind != r.want {
			t.Fatalf("found %v, want %v", found, r.want)
		}
		if now := c.Outlook(s.at).Gas.Mean; math.Abs(before-r.gone-now) > 200 {
			t.Errorf("gas %.0f became %.0f by a fall of %g g after %v", before, now, r.fell, r.silence)
		}
		c.Apply(record.Event{At: s.at, Kind: record.Answer, Cause: r.answer})
		s.run(c, 40)
		if now := c.Outlook(s.at).Gas.Mean; math.Abs(before-r.gone2-now) > r.tol {
			t.Errorf("gas %.0f became %.0f after the answer %v", before, now, r.answer)
		}
	}
}

// TestStepInSilence: what fell while the scale said nothing is a step, too, and knows when the scale was last heard.
func TestStepInSilence(t *testing.T) {
	s := newSteady()
	c := New(s.opt)
	s.run(c, 1000)
	heard := s.at
	s.at, s.gas = s.at.Add(9*time.Hour), s.gas-2500
	for range 20 {
		if f := c.Apply(s.next()); len(f) > 0 {
			if f[0].Kind != ZeroStep || !f[0].Before.Equal(heard) || f[0].Since.Sub(heard) < 9*time.Hour {
				t.Errorf("found %+v, want a step since the silence that began at %v", f[0], heard)
			}
			return
		}
	}
	t.Error("nothing found")
}

// TestFilledUnseen: a full cylinder takes the place of one with four tenths of its gas, or of one that somebody said ran dry, while the scale says nothing.
// What it holds is told, not what came in since the scale was heard.
func TestFilledUnseen(t *testing.T) {
	for _, r := range []struct {
		silence time.Duration
		left    float64 // g, as the scale last saw it
		dry     bool
		days    int // until it is told: with nobody's word it may be something else
	}{
		{30 * time.Hour, 10_000, false, 1},
		{30 * time.Hour, 10_000, true, 1},
		{6 * time.Hour, 12_000, true, 4},
	} {
		s := newSteady()
		c := New(s.opt)
		s.run(c, 100)
		s.gas = r.left
		c.Apply(record.Event{Kind: record.Filled, At: s.at, Net: unit.Grams(r.left)})
		s.run(c, 1000)
		s.at = s.at.Add(r.silence / 2)
		if r.dry {
			c.Apply(record.Event{Kind: record.RanDry, At: s.at})
		}
		s.at, s.gas = s.at.Add(r.silence/2), 22500
		var fills []Finding
		for _, f := range s.run(c, r.days*144) {
			if f.Kind == FillSeen {
				fills = append(fills, f)
			} else if f.Kind != ObjectOn {
				t.Errorf("%+v: found %+v", r, f)
			}
		}
		if len(fills) != 1 || math.Abs(float64(fills[0].Mass)-s.gas) > 700 {
			t.Errorf("%+v: found the fills %+v, want one of %.0f g", r, fills, s.gas)
		}
		if now := c.Outlook(s.at).Gas.Mean; math.Abs(now-s.gas) > 400 {
			t.Errorf("%+v: %.0f g believed, want %.0f", r, now, s.gas)
		}
	}
}

// TestFillsTeachTheScale: each fill, told or seen, says more of what the scale is off by, and what stands beside the cylinder for a day forgets
// nothing of it.
func TestFillsTeachTheScale(t *testing.T) {
	s := newSteady()
	c := New(s.opt)
	const off = 150 // g, of the scale
	feed := func(days float64, beside unit.Grams) {
		for range int(days * 144) {
			w := s.next()
			w.Gross += off + beside
			c.Apply(w)
		}
	}
	sd := func() float64 { return c.Outlook(s.at).Gas.SD }
	c.Apply(record.Event{At: s.at, Kind: record.Filled, Net: 22680})
	feed(3, 0)
	first := sd()
	for range 5 {
		s.gas = 22450
		c.Apply(record.Event{At: s.at, Kind: record.Filled, Net: 22680})
		feed(3, 0)
	}
	if last := sd(); last > 0.6*first {
		t.Errorf("after six fills the gas is known to %.0f g, after one to %.0f", last, first)
	}
	before := sd()
	for range 4 {
		feed(1, 900)
		feed(2, 0)
	}
	if after := sd(); after > 1.15*before {
		t.Errorf("four things put down for a day made %.0f g out of %.0f", after, before)
	}
}

// TestPolledAgain polls five more times within a minute whenever the reading is doubtful, as a live scale is: gas that
// escapes fast is still told as a loss by the third regular poll, and a fitting taken off as a step.
func TestPolledAgain(t *testing.T) {
	for _, c := range []struct {
		name string
		rate float64 // g/h
		step float64 // g
		want FindingKind
	}{
		{"escaping", 1500, 0, AbruptLoss},
		{"fitting off", 0, 700, ZeroStep},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newSteady()
			cyl := New(s.opt)
			for range 2000 {
				cyl.Apply(s.next())
			}
			s.gas -= c.step
			for poll := range 6 {
				s.gas -= c.rate / 6
				found := cyl.Apply(s.next())
				for i := 1; cyl.Doubtful() && i <= 5 && len(found) == 0; i++ {
					w := s.next()
					s.at = s.at.Add(-10*time.Minute + 12*time.Second)
					w.At = s.at
					w.Gross -= unit.Grams(c.rate / 300)
					found = cyl.Apply(w)
				}
				if len(found) == 0 {
					continue
				}
				if found[0].Kind != c.want || poll > 2 {
					t.Errorf("poll %d: found %+v", poll+1, found)
				}
				return
			}
			t.Error("nothing told")
		})
	}
}

func TestDays(t *testing.T) {
	s := newSteady()
	c := New(s.opt)
	for range 500 * 144 {
		c.Apply(s.next())
	}
	d := c.Days()
	if len(d) < 366 || len(d) > 450 {
		t.Fatalf("%d days", len(d))
	}
	var use float64
	for i, x := range d {
		if i > 0 && x.Date.Sub(d[i-1].Date) != 24*time.Hour {
			t.Fatalf("%v follows %v", x.Date, d[i-1].Date)
		}
		use += float64(x.Use)
	}
	// 16 h of six readings, each with a chance of 0.02 for 6 g: 11.5 g/day.
	if mean := use / float64(len(d)); mean < 10 || mean > 13 {
		t.Errorf("mean use %.1f g/day, want 11.5", mean)
	}
}

func TestClock(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Skip(err)
	}
	c := clock{loc: zone}
	// Through the change to summer time on 29 March 2026.
	for at := time.Date(2026, 3, 28, 0, 0, 0, 0, time.UTC); at.Before(time.Date(2026, 3, 30, 0, 0, 0, 0, time.UTC)); at = at.Add(7 * time.Minute) {
		got, want := c.read(at), at.In(zone)
		h := float64(want.Hour()) + float64(want.Minute())/60
		if got.hour-h > 1e-9 || h-got.hour > 1e-9 || got.free != (want.Weekday() == 0 || want.Weekday() == 6) {
			t.Fatalf("%v: %+v, want %v", at, got, want)
		}
	}
}
