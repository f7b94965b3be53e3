package signal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"tarebell/forecast/demand"
	"tarebell/forecast/unit"
)

// doubted plays one raw reading and reports whether it is held back.
func (s *stage) doubted(gross float64) bool {
	s.at = s.at.Add(s.every)
	return s.f.Next(Reading{At: s.at, Gross: unit.Grams(gross), Hour: float64(s.at.Hour())}).Doubtful
}

// until plays ordinary readings until kind is found, and counts them.
func (s *stage) until(kind Kind) (n int) {
	for n = 1; n < 200; n++ {
		s.run(1)
		if k := s.kinds(); len(k) > 0 && k[len(k)-1] == kind {
			break
		}
	}
	return n
}

// TestDoubts: what lies beyond the scatter of the scale is held back, what lies within it is not.
func TestDoubts(t *testing.T) {
	quiet := func(s *stage) { s.sd = 0; s.run(200) }
	ordinary := func(s *stage) { s.run(300) }
	escaping := func(s *stage) { s.run(300); s.use = 2000; s.run(8) }
	for _, c := range []struct {
		name   string
		before func(s *stage)
		by     float64 // g, beside what the platform would show
		want   bool
	}{
		{"the second reading, 130 g more", func(s *stage) { s.sd = 0; s.run(1) }, 130, false},
		{"the second reading, 230 g more", func(s *stage) { s.sd = 0; s.run(1) }, 230, true},
		{"seven sigma", ordinary, 78, true},
		{"3 g on a scale that never moved", quiet, 3, false},
		{"4 g on a scale that never moved", quiet, 4, true},
		{"a fitting of 400 g off while 2000 g/h escape", escaping, -400, true},
		{"4000 g/h go on", func(s *stage) { s.run(300); s.use = 4000; s.run(8) }, 0, false},
	} {
		s := newStage(t, 10*time.Minute)
		c.before(s)
		if got := s.doubted(s.true_ + c.by); got != c.want {
			t.Errorf("%s: held back %v, want %v", c.name, got, c.want)
		}
	}
	s, n := newStage(t, 10*time.Minute), 0
	for range 2000 {
		if s.doubted(s.true_ + s.sd*s.r.NormFloat64()) {
			n++
		}
	}
	if n > 0 {
		t.Errorf("%d of 2000 ordinary readings are held back", n)
	}
}

// TestSteps: what is told of a step, and how soon.
func TestSteps(t *testing.T) {
	for _, c := range []struct {
		name string
		play func(s *stage)
		want []Kind
	}{
		{"after two readings nobody knows what is ordinary", func(s *stage) { s.run(2); s.shift = -700; s.run(20) }, nil},
		{"after three it is", func(s *stage) { s.run(3); s.shift = -700; s.run(20) }, []Kind{Step}},
		{"45 g on a quiet scale are too little to tell", func(s *stage) { s.sd = 2; s.run(200); s.shift = 45; s.run(20) }, nil},
		{"80 g are not", func(s *stage) { s.sd = 2; s.run(200); s.shift = 80; s.run(20) }, []Kind{ObjectOn}},
		{"three odd readings 75 g apart are no step", func(s *stage) {
			s.run(200)
			for _, x := range []float64{800, 950, 875} {
				s.read(s.true_ + x)
			}
			s.run(20)
		}, nil},
		{"an object between spikes", func(s *stage) {
			s.run(200)
			for _, x := range []float64{800, 9000, 800, -7000, 800} {
				s.read(s.true_ + x)
			}
		}, []Kind{ObjectOn}},
		{"a fifth of a fill more after a lift-off is an object", func(s *stage) { s.true_ = 17000; s.lift(2000) }, []Kind{Lifted, Returned, ObjectOn}},
		{"two fifths are a fill", func(s *stage) { s.true_ = 17000; s.lift(4000) }, []Kind{Lifted, Returned, Fill}},
		{"a thing that makes a half full cylinder look full is none", func(s *stage) {
			s.every, s.true_ = time.Hour, 20500
			s.run(60)
			s.shift = 4500
			s.run(100)
		}, []Kind{ObjectOn}},
		{"a fall in a silence of 9 hours is a step", func(s *stage) { s.run(200); s.silence(9, 2500) }, []Kind{Step}},
		{"a fall in a silence of 15 hours is gas", func(s *stage) { s.run(200); s.silence(15, 2500) }, []Kind{Fell}},
		{"a thing of 500 g that left in a silence in which 200 g were drawn", func(s *stage) {
			s.sd = 47
			s.run(200)
			s.shift = 500
			s.run(20)
			s.shift = 0
			s.silence(14, 200)
		}, []Kind{ObjectOn, ObjectOff}},
		{"450 g that may be a thing of 300 g and what was drawn in a silence", func(s *stage) { s.run(200); s.shift = 300; s.run(20); s.shift = 0; s.silence(14, 150) }, []Kind{ObjectOn, ObjectOff}},
		{"the same where the thing had stood for three days", func(s *stage) { s.run(200); s.shift = 300; s.run(3 * 144); s.silence(14, 450) }, []Kind{ObjectOn}},
		{"two days of twice the use of a large household", func(s *stage) { s.run(200); s.silence(48, 2000) }, nil},
		{"two days of four times that", func(s *stage) { s.run(200); s.silence(48, 4000) }, []Kind{Fell}},
	} {
		s := newStage(t, 10*time.Minute)
		s.f.opt.Use = drawing(500)
		c.play(s)
		if got := s.kinds(); !slices.Equal(got, c.want) {
			t.Errorf("%s: found %v, want %v", c.name, got, c.want)
		}
	}
}

// lift takes the cylinder off for an hour and puts it back with more gas.
func (s *stage) lift(more float64) {
	s.run(50)
	for range 6 {
		s.read(0)
	}
	s.true_ += more
	s.run(20)
}

// silence lets hours pass without a reading, in which the platform loses fell g.
func (s *stage) silence(hours time.Duration, fell float64) {
	s.at, s.true_ = s.at.Add(hours*time.Hour), s.true_-fell
	s.run(30)
}

// drawing is a household known to draw so many g a day.
func drawing(day float64) *demand.Model {
	m := demand.New()
	for step := range 60 * 48 {
		m.Seen(math.Mod(float64(step)/2, 168), 0.5, 1, day/48)
	}
	return m
}

// TestSoon: a step is told with its third reading, however much the scale scatters; a slow fall is passed on once the scatter does not explain it, a
// fast one with two readings, unless it is so fast that two wild readings are likelier.
func TestSoon(t *testing.T) {
	late := 0
	s := newStage(t, 10*time.Minute)
	s.sd = 40
	for range 60 {
		s.run(60)
		s.shift = 800 - s.shift
		s.found = nil
		s.run(3)
		if len(s.found) == 0 {
			late++
		}
	}
	if late > 2 {
		t.Errorf("%d of 60 things put down or taken away were not told with the third reading", late)
	}

	for _, c := range []struct{ rate, sd, least, most float64 }{{2000, 10, 1.9, 2.1}, {1860, 60, 1, 2.4}} {
		sum := 0.0
		for seed := range uint64(40) {
			s := newStage(t, 15*time.Minute)
			s.r, s.sd = rand.New(rand.NewPCG(seed, 7)), c.sd
			s.run(200)
			s.use = c.rate
			s.run(1) // it begins
			for s.run(1); s.f.np > 0; s.run(1) {
				sum += 1. / 40
			}
			sum += 1. / 40
		}
		if sum < c.least || sum > c.most {
			t.Errorf("a fall of %g g/h is passed on after %.2f readings, want %g to %g", c.rate, sum, c.least, c.most)
		}
	}
	s = newStage(t, 15*time.Minute)
	s.run(200)
	s.read(s.true_ - 825)
	s.read(s.true_ - 1650)
	s.run(20)
	if s.worst > 60 {
		t.Errorf("two wild readings are passed on, up to %.0f g off", s.worst)
	}

	s = newStage(t, 15*time.Minute)
	s.run(200)
	s.shift, s.use = -900, 500
	if n := s.until(Step); n > 7 {
		t.Errorf("a step and a fall are told with reading %d", n)
	}
}

// TestWildScale: a scale that shows anything is told some hours on, and no scatter beyond a few hundredths of the cylinder is believed.
func TestWildScale(t *testing.T) {
	s := newStage(t, 10*time.Minute)
	s.run(200)
	n := 0
	for ; n < 99 && !slices.Contains(s.kinds(), Implausible); n++ {
		s.read(60000 * s.r.Float64())
	}
	if n < 22 || n > 38 {
		t.Errorf("told after %d wild readings, %v", n, s.kinds())
	}

	s = newStage(t, 20*time.Second)
	s.run(200)
	for range 10 { // 0 to 180 s
		s.read(25000 + 40000*s.r.Float64())
	}
	if s.f.np != 4 {
		t.Errorf("three minutes of polls in quick succession take %d places, want 4", s.f.np)
	}

	s = newStage(t, 10*time.Minute)
	for s.sd = 10; s.sd < 600; s.sd *= 1.1 {
		s.run(60)
	}
	s.run(500)
	if sd := float64(s.f.SD()); sd < 350 || sd > 500 {
		t.Errorf("a scale that scatters by 600 g is believed to scatter by %.0f", sd)
	}
}

// TestForgetsNoise: a scale that has become better is known to be so after about two days of readings.
func TestForgetsNoise(t *testing.T) {
	s := newStage(t, 10*time.Minute)
	s.sd = 15
	s.run(2000)
	s.sd = 5
	s.run(300)
	if sd := float64(s.f.SD()); sd < 7.8 || sd > 9.5 {
		t.Errorf("the scatter went from 15 to 5 g 300 readings ago and is learned as %.1f", sd)
	}
}

// TestBeside: what was put beside the cylinder may go again for two days; a cylinder put back does not stand just where it stood.
func TestBeside(t *testing.T) {
	s := newStage(t, time.Hour)
	s.run(100)
	s.shift = 900
	beside := func(hours int) bool {
		s.run(hours)
		return s.vetted[len(s.vetted)-1].Beside
	}
	if !beside(40) || beside(20) {
		t.Error("after 40 hours it may still go again, after 60 it stays")
	}

	s = newStage(t, 10*time.Minute)
	s.sd = 1
	s.run(50)
	s.lift(0)
	if sd := s.vetted[len(s.vetted)-20].ShiftSD; sd < 7 || sd > 14 {
		t.Errorf("put back, the zero is uncertain by %.0f g", sd)
	}
}

// TestTrust: steps found by an erratic scale are held against the readings once it behaves again. What fell in a silence and came back is not gas
// that went.
func TestTrust(t *testing.T) {
	// play lets the scale be re-zeroed, behave for some hours, lose a thing in a silence and get it back, and then step so often.
	play := func(every time.Duration, calm, steps int) (s *stage, anew int) {
		s = newStage(t, every)
		s.run(int(48 * time.Hour / every))
		s.shift = -700
		s.run(int(time.Duration(calm) * time.Hour / every))
		s.at, s.shift = s.at.Add(13*time.Hour), -3200
		s.run(max(5, int(80*time.Minute/every)))
		s.shift = -700
		s.run(5)
		for range steps - 2 {
			s.shift = -1700 - s.shift
			s.run(5)
		}
		s.found = nil
		return s, s.until(Anew)
	}
	for _, c := range []struct {
		name        string
		every       time.Duration
		calm, steps int
		least, most int // readings until it is told; 200: never
	}{
		{"two steps", 10 * time.Minute, 8, 2, 200, 200},
		{"three steps, told after two hours", 10 * time.Minute, 8, 3, 8, 14},
		{"three steps, told with the fifth reading that behaves", time.Hour, 12, 3, 2, 4},
		{"what was found four hours before is not trusted yet", 10 * time.Minute, 4, 4, 200, 200},
	} {
		s, n := play(c.every, c.calm, c.steps)
		if n < c.least || n > c.most {
			t.Errorf("%s: told after %d readings, want %d to %d (%v)", c.name, n, c.least, c.most, s.kinds())
		}
	}
}

// TestNights: the coefficient is learned from nights, and from the hours between 23 and 6 only.
func TestNights(t *testing.T) {
	// learn plays days with readings from one hour to another of each day and one at noon, in which weight and warmth change together.
	learn := func(days int, from, to, perHour float64) *Filter {
		f := New(Options{House: 15000, NetFill: 10000})
		for day := range days {
			start := time.Date(2026, 3, 1+day, 0, 0, 0, 0, time.UTC)
			for h := from; h < to; h += 1. / 12 {
				x := perHour * (h - from)
				f.Next(Reading{At: start.Add(time.Duration(h * float64(time.Hour))), Gross: unit.Grams(22000 - 7*x), Temp: unit.Celsius(20 - x), HasTemp: true, Hour: math.Mod(h, 24)})
			}
			f.Next(Reading{At: start.Add(36 * time.Hour), Gross: 22000, Temp: 20, HasTemp: true, Hour: 12})
		}
		return f
	}
	for _, c := range []struct {
		from, to float64
		want     bool
	}{
		{23, 26.7, true}, {26, 30, true}, {23, 27.8, true}, {23, 25.5, false}, {29, 33, false}, {19, 23.5, false},
	} {
		if coef, _ := learn(1, c.from, c.to, 0.5).Coefficient(); coef > 0 != c.want {
			t.Errorf("%g to %g o'clock: coefficient %.2f g/°C", c.from, c.to, coef)
		}
	}
	if coef, sd := learn(1, 23, 30, 0.1).Coefficient(); coef < 1.8 || coef > 3.2 {
		t.Errorf("after one night that cooled by 0.7 °C and 4.9 g: %.2f ± %.2f g/°C", coef, sd)
	}
}

// TestWarmth: the load cell follows the room with a lag of about half an hour; the reference is the mean of the first days.
func TestWarmth(t *testing.T) {
	f := New(Options{House: 15000, NetFill: 10000})
	at := time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	hours := func(n float64, temp unit.Celsius) (cell float64) {
		for range int(n * 6) {
			at = at.Add(10 * time.Minute)
			for _, v := range f.Next(Reading{At: at, Gross: 22000, Temp: temp, HasTemp: true, Hour: float64(at.Hour())}).Vetted {
				cell = v.Cell
			}
		}
		return cell
	}
	hours(96, 20)
	if cell := hours(1, 30); cell < 28 || cell > 29.4 {
		t.Errorf("an hour after the room went from 20 to 30 °C the cell has %.1f", cell)
	}
	hours(96, 26)
	if f.drift.ref < 20.6 || f.drift.ref > 22 {
		t.Errorf("after four days of 20 °C and four of 26 the reference is %.1f", f.drift.ref)
	}
}
