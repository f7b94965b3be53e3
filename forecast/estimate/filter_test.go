package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// story is an invented cylinder of 9070 g that loses 40 g a day between 8 and 22 o'clock UTC, weighed hourly.
type story struct {
	f      *Filter
	r      *rand.Rand
	at     time.Time
	gas    float64
	offset float64
	noise  float64
}

func newStory(o Options) *story {
	if o.NetFill == 0 {
		o = Options{House: 15000, NetFill: 9070, Heel: 120}
	}
	s := &story{f: New(o), r: rand.New(rand.NewPCG(3, 9)), at: monday, gas: 0.986 * float64(o.NetFill), noise: 15}
	s.f.Filled(monday, o.NetFill, 0)
	return s
}

// run lets days pass at a use of perDay g; lost tells what else goes, g/h.
func (s *story) run(days int, perDay, lost float64) {
	for range days * 24 {
		s.at = s.at.Add(time.Hour)
		s.gas -= lost
		if h := s.at.Hour(); h >= 8 && h < 22 {
			s.gas -= perDay / 14
		}
		s.weigh(0)
	}
}

func (s *story) weigh(extra float64) {
	gross := 15000 + s.gas + s.offset + extra + s.noise*s.r.NormFloat64()
	s.f.Observe(Observation{At: s.at, Gross: unit.Grams(gross)})
}

func (s *story) use() float64 { return s.f.State(s.at).Use.Mean }

func (s *story) median() float64 {
	_, q := s.f.Forecast(s.at, 120, 2500)
	return float64(q.Quantile(0.5))
}

func between(t *testing.T, what string, got, lo, hi float64) {
	t.Helper()
	if !(got >= lo && got <= hi) {
		t.Errorf("%s: got %.4g, want %g to %g", what, got, lo, hi)
	}
}

func TestLearnsUseAndForecasts(t *testing.T) {
	s := newStory(Options{})
	if st := s.f.State(s.at); st.Learned {
		t.Error("learned before the first reading")
	}
	s.run(60, 40, 0)
	st := s.f.State(s.at)
	if !st.Known || !st.Learned {
		t.Errorf("after 60 days: known %v, learned %v", st.Known, st.Learned)
	}
	between(t, "use, g/day", st.Use.Mean, 37, 44)
	between(t, "gas, g", st.Gas.Mean, s.gas-80, s.gas+80)
	between(t, "noise, g", float64(st.NoiseSD), 12, 18)
	between(t, "days left", s.median(), 0.85*s.gas/40, 1.15*s.gas/40)
}

// Gas that was lost must not count as use, whether that is told late or in time.
func TestLossToldLate(t *testing.T) {
	tell := func(when int) *story { // days after the loss; <0: never
		s := newStory(Options{})
		s.run(30, 40, 0)
		from := s.at
		s.run(10, 40, 5)
		to := s.at
		for d := range 6 {
			if d == when {
				s.f.Lost(from, to, 1200, 60)
			}
			s.run(1, 40, 0)
		}
		return s
	}
	never, soon, late := tell(-1), tell(0), tell(5)
	between(t, "use when nobody told over use when told at once", never.use()/soon.use(), 1.02, 3)
	between(t, "use when told at once", soon.use(), 35, 47)
	between(t, "use when told 5 days late over use when told at once", late.use()/soon.use(), 0.999, 1.001)
	between(t, "gas when told late", late.f.State(late.at).Gas.Mean, late.gas-80, late.gas+80)
}

// Told again with the same beginning, an account of a loss replaces the one before.
func TestLossToldAgain(t *testing.T) {
	s := newStory(Options{})
	s.run(30, 40, 0)
	from := s.at
	for range 3 {
		s.run(1, 40, 20)
		s.f.Lost(from, s.at, unit.Grams(20*s.at.Sub(from).Hours()), 30)
	}
	s.run(4, 40, 0)
	between(t, "use", s.use(), 35, 47)
}

func TestLosingBringsRunOutNearer(t *testing.T) {
	s := newStory(Options{})
	s.run(40, 40, 0)
	calm := s.median()
	s.f.Losing(5, 0.5)
	between(t, "days left with 120 g/day lost besides 40 used, over without", s.median()/calm, 0.2, 0.32)
	s.run(10, 40, 5)
	between(t, "use beside the loss", s.use(), 33, 48)
	s.f.Losing(0, 0)
	s.run(5, 40, 0)
	between(t, "use after the repair", s.use(), 35, 47)
	between(t, "days left after the repair", s.median(), 0.8*s.gas/40, 1.2*s.gas/40)
}

func TestRanDryCalibrates(t *testing.T) {
	s := newStory(Options{})
	s.offset = 130
	s.run(200, 40, 0)
	before := math.Abs(s.f.State(s.at).Gas.Mean - s.gas)
	s.gas = 120
	s.run(1, 0, 0)
	s.f.RanDry(s.at)
	st := s.f.State(s.at)
	between(t, "gas when it ran dry", st.Gas.Mean, 80, 160)
	between(t, "offset learned", st.Offset.Mean, 100, 160)
	if before < 30 {
		t.Logf("the offset was known to %.0f g before", before)
	}
	s.gas = 0.975 * 9070
	s.f.Filled(s.at, 9070, 0)
	s.run(3, 40, 0)
	st = s.f.State(s.at)
	between(t, "gas after the refill of the same cylinder", st.Gas.Mean, s.gas-45, s.gas+45)
	between(t, "its sd", st.Gas.SD, 5, 40)
}

func TestSwapForgetsTheOffset(t *testing.T) {
	s := newStory(Options{})
	s.offset = 130
	s.run(50, 40, 0)
	s.f.RanDry(s.at)
	s.f.Filled(s.at, 9070, 14200)
	between(t, "sd of the offset of a cylinder never seen", s.f.State(s.at).Offset.SD, 100, 115)
	s.offset, s.gas = -800, 9000
	s.run(3, 40, 0)
	between(t, "gas in the new cylinder", s.f.State(s.at).Gas.Mean, s.gas-120, s.gas+120)
}

// TestSwapOfUnknownTare: where the supplier swaps, a full cylinder may weigh what it likes; a full one is full.
func TestSwapOfUnknownTare(t *testing.T) {
	for _, swapped := range []bool{false, true} {
		s := newStory(Options{House: 15000, NetFill: 9070, Heel: 120, Swapped: swapped})
		s.run(50, 40, 0)
		s.f.Filled(s.at, 9070, 0)
		s.offset, s.gas = -900, 8950
		s.run(3, 40, 0)
		off := math.Abs(s.f.State(s.at).Gas.Mean - s.gas)
		if swapped != (off < 150) {
			t.Errorf("swapped %v: the gas is believed %.0f g off", swapped, off)
		}
	}
}

// TestOnceAWeek: a club that draws all its gas in the evening of one day of the week, a third of the cylinder and more, is known by its mean, though six quiet days lie between.
func TestOnceAWeek(t *testing.T) {
	s := newStory(Options{House: 15000, NetFill: 2270})
	s.noise = 4
	evening := func(g float64) {
		for range 24 {
			s.at = s.at.Add(time.Hour)
			if h := s.at.Hour(); h > 18 && h <= 22 {
				s.gas -= g / 4
			}
			s.weigh(0)
		}
	}
	for week := range 16 {
		s.run(1, 0, 0)
		evening(600 + 600*s.r.Float64())
		s.run(3, 0, 0)
		if week%2 == 1 {
			s.gas = 0.986 * 2270
			s.f.Filled(s.at, 2270, 0)
		}
		s.run(2, 0, 0)
		if week < 5 {
			continue
		}
		st := s.f.State(s.at)
		between(t, "use of 129 g a day", st.Use.Mean, 90, 190)
		between(t, "probability of being away", st.Away, 0, 0.2)
		if !st.Learned {
			t.Errorf("not learned after %d weeks", week+1)
		}
		evenings := math.Ceil(s.median() / 7)
		between(t, "evenings it lasts less those of 900 g", evenings-s.gas/900, -0.5, 1)
	}
}

// TestSeason: a scale without a thermometer that goes up and down by 25 g with the day goes with the season, too. The gas believed is within three standard deviations
// all the same.
func TestSeason(t *testing.T) {
	s := newStory(Options{House: 7000, NetFill: 2270})
	for day := range 240 {
		for h := range 24 {
			s.at = s.at.Add(time.Hour)
			if h >= 8 && h < 22 {
				s.gas -= 8.0 / 14
			}
			s.offset = 25*math.Sin(2*math.Pi*float64(h)/24) + 45*(1-math.Cos(math.Pi*float64(day)/182))
			s.f.Observe(Observation{At: s.at, Gross: unit.Grams(7000 + s.gas + s.offset + s.noise*s.r.NormFloat64())})
		}
		if g := s.f.State(s.at).Gas; day > 20 && math.Abs(g.Mean-s.gas) > 3*g.SD {
			t.Fatalf("day %d: %.0f ± %.0f g, in truth %.0f", day, g.Mean, g.SD, s.gas)
		}
	}
}

// TestMovedIn: half a year of hardly any use says nothing of those who live there from then on.
func TestMovedIn(t *testing.T) {
	s := newStory(Options{House: 15000, NetFill: 2270})
	s.noise = 45
	for range 14 {
		s.run(13, 0.5, 0)
		s.run(1, 10, 0)
	}
	for day := range 60 {
		s.run(1, 100*math.Exp(0.4*s.r.NormFloat64()), 0)
		if day >= 6 {
			between(t, fmt.Sprintf("use of 100 g a day, day %d", day), s.use(), 55, 190)
		}
	}
}

// TestMoreThanFull: a scale that shows more than a full cylinder from the first reading on, as with a wrong tare or something beside it, tells neither
// of another mass of gas nor of use without bounds.
func TestMoreThanFull(t *testing.T) {
	s := newStory(Options{House: 15000, NetFill: 9070, Heel: 120})
	s.f.Filled(s.at, 9070, 0)
	s.offset, s.gas = 1300, 8950
	s.run(2, 40, 0)
	st := s.f.State(s.at)
	between(t, "gas", st.Gas.Mean, s.gas-100, s.gas+150)
	between(t, "use", st.Use.Mean, 5, 150)
	between(t, "offset", st.Offset.Mean, 1100, 1500)
}

// A fill told days late takes its place in the past.
func TestFillToldLate(t *testing.T) {
	run := func(late bool) float64 {
		s := newStory(Options{})
		s.run(150, 40, 0)
		filled := s.at
		s.gas = 0.98 * 9070
		if !late {
			s.f.Filled(filled, 9070, 0)
		}
		s.run(3, 40, 0)
		if late {
			s.f.Filled(filled, 9070, 0)
		}
		s.run(2, 40, 0)
		return s.f.State(s.at).Gas.Mean
	}
	soon, late := run(false), run(true)
	// One batch of readings holds some from before the fill when it is told late.
	between(t, "gas after a fill told late less told at once", late-soon, -40, 40)
}

func TestAwayIsUsed(t *testing.T) {
	s := newStory(Options{})
	s.run(60, 40, 0)
	before := s.median()
	s.f.Away(s.at, s.at.AddDate(0, 0, 20))
	between(t, "days a told absence of 20 adds", s.median()-before, 16, 24)
	s.run(20, 0, 0)
	s.run(3, 40, 0)
	between(t, "use after it", s.use(), 35, 47)
}

// Days away nobody told of must not pass for a new way of living.
func TestUntoldAbsence(t *testing.T) {
	s := newStory(Options{})
	s.run(60, 40, 0)
	s.run(8, 0, 0)
	st := s.f.State(s.at)
	between(t, "probability of being away", st.Away, 0.8, 1)
	between(t, "use", st.Use.Mean, 30, 48)
	s.run(3, 40, 0)
	between(t, "use after", s.use(), 33, 48)
}

func TestLastingChangeIsFollowed(t *testing.T) {
	s := newStory(Options{})
	s.run(60, 40, 0)
	s.run(15, 80, 0)
	between(t, "use two weeks after it doubled", s.use(), 66, 92)
}

// One wild reading, or a day of readings with something on the platform, must not bend the estimate for good.
func TestWildReadings(t *testing.T) {
	s := newStory(Options{})
	s.run(40, 40, 0)
	s.at = s.at.Add(time.Hour)
	s.weigh(-9000)
	s.run(2, 40, 0)
	between(t, "use after one wild reading", s.use(), 33, 48)
	between(t, "gas after one wild reading", s.f.State(s.at).Gas.Mean, s.gas-90, s.gas+90)

	m := newStory(Options{})
	for i := range 20 {
		m.at = m.at.AddDate(0, 0, 5)
		m.gas -= 200
		y := 15000 + m.gas + 100*m.r.NormFloat64()
		if i == 15 {
			y *= 2.2046 // pounds
		}
		m.f.Observe(Observation{At: m.at, Gross: unit.Grams(math.Round(y/100) * 100), Manual: true})
	}
	between(t, "use from typed weights, one in pounds", m.use(), 30, 50)
}

// TestRiseIsNoGas: a rise that no fill explains moves the zero of a scale, not the gas.
func TestRiseIsNoGas(t *testing.T) {
	s := newStory(Options{})
	s.noise = 60
	s.run(40, 40, 0)
	s.offset = 300
	s.run(10, 40, 0)
	between(t, "gas after the zero moved by 300 g", s.f.State(s.at).Gas.Mean, s.gas-150, s.gas+150)
	between(t, "use after the zero moved", s.use(), 30, 50)
	s.offset = 750
	s.run(1, 40, 0)
	s.offset = 300
	s.run(10, 40, 0)
	between(t, "gas after what stood there for a day is gone", s.f.State(s.at).Gas.Mean, s.gas-150, s.gas+150)
}

// TestAnewAfterRise: when nobody says what is in a cylinder, the readings do, even right after the zero rose: its going back explains no cylinder
// that is far from full.
func TestAnewAfterRise(t *testing.T) {
	s := newStory(Options{})
	s.run(60, 40, 0)
	s.weigh(900)
	s.run(1, 40, 0)
	s.weigh(900)
	s.f.Filled(s.at, 0, 15000)
	s.run(3, 40, 0)
	between(t, "gas", s.f.State(s.at).Gas.Mean, s.gas-200, s.gas+200)
}

func TestGapAndReZero(t *testing.T) {
	s := newStory(Options{})
	s.run(40, 40, 0)
	s.at, s.gas = s.at.AddDate(0, 0, 25), s.gas-25*40
	s.run(2, 40, 0)
	between(t, "use after a gap", s.use(), 34, 46)
	s.at = s.at.Add(time.Hour)
	s.f.Observe(Observation{At: s.at, Gross: unit.Grams(15000 + s.gas - 300), StepSD: 400})
	s.offset = -300
	gas := s.gas
	s.run(3, 40, 0)
	between(t, "use after a re-zero", s.use(), 34, 46)
	between(t, "gas after a re-zero", s.f.State(s.at).Gas.Mean, gas-120-200, gas-120+200)
}

// One litre of strong sparkling water a day, 9 g/L, makes 50 lb last about 2,520 days; 2.33 g a day about 9,730. Common
// practice, no source. Before anything is learned the forecast starts from what the household says; it allows for a fill of
// 97-100 %, days away, parties and lasting changes, hence the tolerance of 20 %.
func TestFiftyPounds(t *testing.T) {
	for _, c := range []struct{ use, days float64 }{{9, 2520}, {2.33, 9730}} {
		f := New(Options{House: 24000, NetFill: unit.Pounds(50), UsePrior: unit.GramsPerDay(c.use)})
		f.Filled(monday, 0, 0)
		f.Observe(Observation{At: monday.Add(time.Hour), Gross: 24000 + unit.Pounds(50)*0.99})
		_, q := f.Forecast(monday.Add(time.Hour), 0, 6500)
		between(t, "median days", float64(q.Quantile(0.5)), 0.8*c.days, 1.2*c.days)
	}
}

// Forecasts are made of the input alone: asking in between changes nothing, and the same input gives the same bits.
func TestDeterministic(t *testing.T) {
	run := func(ask bool) (q [7]unit.Days) {
		s := newStory(Options{})
		for range 30 {
			s.run(1, 40, 0)
			if ask {
				s.median()
				s.f.State(s.at.Add(100 * time.Hour))
			}
		}
		_, d := s.f.Forecast(s.at, 120, 2500)
		for i, p := range quantiles {
			q[i] = d.Quantile(p)
		}
		return q
	}
	if a, b := run(false), run(true); a != b {
		t.Errorf("asked in between: %v, not asked: %v", b, a)
	}
}

func TestLiquidDryComesFirst(t *testing.T) {
	s := newStory(Options{})
	s.run(30, 40, 0)
	dry, out := s.f.Forecast(s.at, 120, 2500)
	for _, p := range quantiles {
		if dry.Quantile(p) >= out.Quantile(p) {
			t.Errorf("p%v: liquid-dry %v, run-out %v", p, dry.Quantile(p), out.Quantile(p))
		}
	}
}

func TestObserveAllocatesNothing(t *testing.T) {
	s := newStory(Options{})
	s.run(60, 40, 0)
	if n := testing.AllocsPerRun(500, func() { s.at = s.at.Add(time.Hour); s.weigh(0) }); n != 0 {
		t.Errorf("%v allocations a reading", n)
	}
}

// Whatever is told in whatever order, what comes out is finite and in order.
func TestNothingBreaksIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := New(Options{House: 15000, NetFill: unit.Grams(rapid.Float64Range(1, 30000).Draw(t, "net")), Heel: 100})
		at := monday
		grams := rapid.Float64Range(-1e5, 1e5)
		for range rapid.IntRange(1, 40).Draw(t, "events") {
			at = at.Add(time.Duration(rapid.Float64Range(-30, 900).Draw(t, "hours") * float64(time.Hour)))
			back := at.Add(-time.Duration(rapid.Float64Range(0, 500).Draw(t, "back") * float64(time.Hour)))
			g := unit.Grams(grams.Draw(t, "g"))
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0:
				f.Lost(back, at, g, 10)
			case 1:
				f.Losing(unit.GramsPerHour(g/1000), 1)
			case 2:
				f.Filled(back, g, 0)
			case 3:
				f.RanDry(back)
			case 4:
				f.Away(back, at.AddDate(0, 0, 3))
			case 5:
				f.Made(at, 3)
			case 6:
				f.Observe(Observation{At: at, Gross: g, Manual: true})
			default:
				f.Observe(Observation{At: at, Gross: 15000 + g/20, SD: unit.Grams(rapid.Float64Range(0, 50).Draw(t, "sd")), StepSD: unit.Grams(rapid.Float64Range(0, 50).Draw(t, "step"))})
			}
			check(t, f, at)
		}
	})
}

func check(t *rapid.T, f *Filter, at time.Time) {
	s := f.State(at)
	for _, x := range []float64{s.Gas.Mean, s.Gas.SD, s.Use.Mean, s.Use.SD, s.Offset.Mean, s.Offset.SD, float64(s.NoiseSD), s.Away} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("not finite: %+v", s)
		}
	}
	dry, out := f.Forecast(at, 100, 500)
	for _, d := range []runout.Distribution{dry, out} {
		if !d.Known() {
			continue
		}
		last := unit.Days(0)
		for _, p := range quantiles {
			q := d.Quantile(p)
			if math.IsNaN(float64(q)) || q < last {
				t.Fatalf("quantile %v is %v after %v", p, q, last)
			}
			last = q
		}
	}
}

// Whatever went before, there is never less than no gas nor more than fits, and ten sound weighings bring it back to within four standard deviations of what it is.
// One history in some 2000 does not: an unseen loss at the very hour at which the zero was off for other reasons too. One in fifty fails the test. To the
// deviation the offset's belongs as it was before. What goes unseen between a fill, or a wild reading, and the next sound weighing cannot be told from a zero that
// is off, and is left out.
func TestSoundWeightsWin(t *testing.T) {
	histories, astray := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		const full = 9070
		f := New(Options{House: 15000, NetFill: full, Heel: 100})
		at := monday
		f.Filled(at, full, 0)
		gas, weighed := 0.99*full, false
		grams := rapid.Float64Range(0, 40000)
		for range rapid.IntRange(1, 30).Draw(t, "events") {
			at = at.Add(time.Duration(rapid.Float64Range(0.1, 60).Draw(t, "hours") * float64(time.Hour)))
			gas = max(gas-rapid.Float64Range(0, 100).Draw(t, "used"), 0)
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0:
				f.Lost(at.Add(-24*time.Hour), at, unit.Grams(min(grams.Draw(t, "lost"), full)), 50)
			case 1:
				f.Observe(Observation{At: at, Gross: unit.Grams(grams.Draw(t, "slip")), Manual: true})
			case 2:
				wild := min(grams.Draw(t, "wild"), 15000+full) // more means that the zero is off, which weights that follow do not refute
				f.Observe(Observation{At: at, Gross: unit.Grams(wild)})
				weighed = false
			case 3:
				f.Filled(at, full, 0)
				gas, weighed = 0.99*full, false
			case 4:
				if !weighed {
					continue
				}
				gas *= rapid.Float64Range(0, 1).Draw(t, "left") // lost, and nobody knows
			default:
				f.Observe(Observation{At: at, Gross: unit.Grams(15000 + gas)})
				weighed = true
			}
			possible(t, f.State(at).Gas, full)
		}
		typed := rapid.Bool().Draw(t, "typed")
		wave := []float64{0, 40, -60, 20, -30, 70, -20, -50, 10, 30}
		for _, e := range wave {
			at = at.Add(12 * time.Hour)
			gas = max(gas-15, 0)
			f.Observe(Observation{At: at, Gross: unit.Grams(15000 + gas + e), Manual: typed})
		}
		g := f.State(at).Gas
		possible(t, g, full)
		if math.Abs(g.Mean-gas) > 4*math.Hypot(g.SD, f.opt.offsetSD()) {
			t.Logf("%.0f ± %.0f g believed of %.0f", g.Mean, g.SD, gas)
			astray++
		}
		histories++
	})
	if astray*50 > histories {
		t.Errorf("after %d of %d histories ten sound weighings did not win", astray, histories)
	}
}

func possible(t *rapid.T, gas Normal, full float64) {
	if gas.Mean < 0 || gas.Mean > full {
		t.Fatalf("%.0f ± %.0f g of gas in a cylinder of %.0f", gas.Mean, gas.SD, full)
	}
}

// Nobody puts gas in unseen: after a typed weight of nearly nothing there is not much two months later, however little is known by then, and it has most likely run
// out.
func TestNothingGrowsUnseen(t *testing.T) {
	f := New(Options{House: 11580, NetFill: 4540, Heel: 62})
	at := monday
	f.Filled(at, 4540, 0)
	for _, net := range []unit.Grams{4620, 4220, 3920, 3420, 2620, 1620, 620, 120} {
		f.Observe(Observation{At: at, Gross: 11580 + net, Manual: true})
		at = at.AddDate(0, 0, 7)
	}
	at = at.AddDate(0, 0, -7)
	first := f.State(at).Gas.Mean
	for day := range 60 {
		s := f.State(at.AddDate(0, 0, day))
		if s.Gas.Mean > 1.5*first { // that nobody says it is empty speaks for a little more
			t.Fatalf("%.0f g after %d days, of %.0f", s.Gas.Mean, day, first)
		}
		if _, out := f.Forecast(at.AddDate(0, 0, day), 62, 700); day > 20 && (s.Ended < 0.9 || out.Quantile(0.9) > 14) {
			t.Fatalf("after %d days it has ended with a probability of %.2f, or may last %.0f days", day, s.Ended, float64(out.Quantile(0.9)))
		}
	}
}
