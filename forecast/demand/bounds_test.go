package demand

import (
	"math"
	"testing"
)

// live lets days pass, in which each half hour that starts at hour of the day draws mass g, 0: none.
func live(m *Model, days int, mass func(hour float64) float64) {
	for step := range days * 48 {
		x := mass(math.Mod(float64(step)/2, 24))
		m.Seen(math.Mod(float64(step)/2, 168), 0.5, count(x > 0), x)
	}
}

// drawn is the law of a step that is known to have drawn, or not.
func drawn(it bool) *Law {
	if it {
		return &Law{3: 1}
	}
	return &Law{0: 1}
}

// always draws so many g a day, around the clock.
func always(day float64) func(hour float64) float64 {
	return func(float64) float64 { return day / 48 }
}

// TestKnowledge: what is expected before anything was seen, how soon that gives way to what is seen, and how long that is remembered.
func TestKnowledge(t *testing.T) {
	for _, c := range []struct {
		what        string
		got         func(m *Model) float64
		least, most float64
	}{
		{"g a day after a week of 20", func(m *Model) float64 { live(m, 7, always(20)); return m.Day() }, 26.5, 30.5},
		{"g a day, 45 days after they were 60", func(m *Model) float64 { live(m, 300, always(60)); live(m, 45, always(0)); return m.Day() }, 32, 40},
		{"g a day after a quarter of nothing", func(m *Model) float64 { live(m, 200, always(0)); return m.Day() }, 2, 4},
		{"g a day at most, before anything is known", func(m *Model) float64 { return 24 * m.Flow(20) }, 350, 650},
		{"g/h in the evening, after a day of nothing", func(m *Model) float64 { live(m, 1, always(0)); return m.Flow(20) }, 8.5, 11.2},
		{"evenings a month that guests begin to draw on", func(m *Model) float64 {
			sum := 0.0
			for i := range Paces {
				sum += m.company(i) * 48 * 30
			}
			return sum
		}, 0.7, 1.4},
		{"g that guests take after one feast of 900 g", func(m *Model) float64 { m.Hosted(900, 100); return m.evening() }, 400, 600},
		{"g that guests take, 12 feasts after they took 900 instead of 300 g", func(m *Model) float64 {
			for i := range 48 {
				m.Hosted(300+600*float64(i/36), 100)
			}
			return m.evening()
		}, 600, 750},
		{"share of the feasts at the pace of one seen", func(m *Model) float64 {
			m.Hosted(900, Paces[9])
			return m.company(9) / m.company(3)
		}, 0.6, 3},
		{"share of the steps after six that did not draw", func(m *Model) float64 {
			for i := range 6 {
				m.Seen(float64(4*i), 0.5, 0, 0)
			}
			return m.average()
		}, 0.21, 0.28},
		{"mean bout after four of 60 g", func(m *Model) float64 { m.Count(60, 30, 4); return m.Mean() }, 38.5, 43},
		{"mean bout, 450 bouts after it went from 30 to 60 g", func(m *Model) float64 {
			for i := range 1450 {
				m.Count(30+30*count(i >= 1000), 30, 1)
			}
			return m.Mean()
		}, 47, 53},
		{"share of 50 times the mean bout in bouts, before anything is known", func(m *Model) float64 { return large(m, 50) }, 5e-4, 2e-3},
		{"the same after three days", func(m *Model) float64 { live(m, 3, always(60)); return large(m, 50) }, 6e-5, 1.25e-4},
		{"150 g more of guests who drew 150", func(m *Model) float64 {
			live(m, 60, func(hour float64) float64 { return 15 * count(hour >= 19 && hour < 20) })
			return at(m, 19.5).Stays(4, 150, 150)
		}, 0.12, 0.32},
		{"draws at 18:10 of who draws from 19 to 20", func(m *Model) float64 {
			live(m, 60, func(hour float64) float64 { return 15 * count(hour >= 19 && hour < 20) })
			return m.Share(18.2)
		}, 0.2, 1},
		{"an octave off what was always seen, beside it", func(m *Model) float64 {
			m.Learn(12, &Law{4: 1}, 500)
			l := m.Lump(12)
			return l[5] / l[4]
		}, 0.07, 0.13},
		{"draws, 2000 steps after it stopped", func(m *Model) float64 {
			for i := range 10000 {
				m.Learn(12, drawn(i < 8000), 1)
			}
			return 1 - m.Lump(12)[0]
		}, 0.52, 0.67},
		{"a weekday of 14 steps that draw where 4 were expected", func(m *Model) float64 {
			for range 14 {
				m.week[0].add(0.5, 0.3, 1, 1, 1)
			}
			return m.week[0].busy()
		}, 1.45, 1.7},
		{"the same, twelve weeks after it stopped", func(m *Model) float64 {
			for i := range 4571 {
				m.week[0].add(0.5, 0.3, 0.3+0.7*count(i < 4000), 1, 1)
			}
			return m.week[0].busy()
		}, 1.6, 2.1},
		{"draws of every step of Sundays, of half of the others", func(m *Model) float64 {
			for step := range 60 * 336 {
				hour := math.Mod(float64(step)/2, 168)
				draws := hour < 24 || step/2%2 == 0
				m.Learn(hour, drawn(draws), 1)
				m.Seen(hour, 0.5, count(draws), 12*count(draws))
			}
			return 1 - m.Lump(12)[0]
		}, 0.7, 0.96},
	} {
		if got := c.got(New()); !(got >= c.least && got <= c.most) {
			t.Errorf("%s: %.4g, want %g to %g", c.what, got, c.least, c.most)
		}
	}
}

// large is how probable it is that a bout comes to so many times the mean, guests and the clock apart.
func large(m *Model, times float64) float64 {
	return math.Pow(1+times/(m.tail()-1), -m.tail())
}

// TestMasses: half a litre of most drinks, 3 g (common practice, no source), is in the lowest octave, and what a cylinder may lose in half an hour
// through an open valve in the highest. What is below two or three sigma of the scale is not seen.
func TestMasses(t *testing.T) {
	if low := Size(1); low/math.Sqrt2 > 3 || low*math.Sqrt2 < 3 {
		t.Errorf("the lowest octave is around %g g", low)
	}
	if high := Size(Classes - 1); high < 1500 || high > 10000 {
		t.Errorf("the highest octave is around %g g", high)
	}
	for sd, want := range map[float64]float64{4: 1, 6: 0} {
		l := Law{3: 1} // 12 g
		if l.Blur(sd); l[3] != want {
			t.Errorf("12 g beside a scatter of %g g: seen with %g", sd, l[3])
		}
	}
}
