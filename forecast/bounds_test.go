package forecast

import (
	"testing"
	"time"

	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/forecast/unit/reftest"
)

// TestDefaults: where nothing is configured, what cannot be used is what is left at 5 bar, and the liquid ends as at 20 °C (tables of an
// independent implementation; 9.276 g/L at 5 bar and 20 °C).
func TestDefaults(t *testing.T) {
	c := New(Options{NetFill: unit.Grams(co2.FillingDensity * 9990.2)}) // 10 L
	reftest.Near(t, "heel", float64(c.Heel()), 92.76, 0.2)
	for _, r := range reftest.Rows(t, "co2_liquid_runout_computed") {
		if r.Num(t, "t_degC") == 20 {
			reftest.Near(t, "gas when the liquid ends", float64(c.dry), 6800*r.Num(t, "fraction_of_a_680_kg_m3_charge_left_when_last_liquid_boils"), 0.2)
			return
		}
	}
	t.Error("no row for 20 °C")
}

// TestPaceOfADoubt: a scale that stands out is polled again at once for an hour; when it does so again, not before it has behaved for some hours.
func TestPaceOfADoubt(t *testing.T) {
	for _, r := range []struct {
		name     string
		doubtful time.Duration // how long the last readings stand out
		rested   time.Duration // since an earlier doubt; 0: none
		want     Pace
	}{
		{"40 minutes", 40 * time.Minute, 0, AtOnce},
		{"80 minutes", 80 * time.Minute, 0, Usual},
		{"again after two hours", 10 * time.Minute, 2 * time.Hour, Usual},
		{"again after three and a half", 10 * time.Minute, 210 * time.Minute, AtOnce},
	} {
		s := newSteady()
		c := New(s.opt)
		s.run(c, 300)
		wild := func() {
			w := s.next()
			w.Gross = unit.Grams(90000 + 40000*s.r.Float64())
			c.Apply(w)
		}
		if r.rested > 0 {
			wild()
			s.run(c, int(r.rested/(10*time.Minute)))
		}
		for from := s.at; s.at.Sub(from) <= r.doubtful; {
			wild()
		}
		if got := c.Pace(); got != r.want || !c.Doubtful() {
			t.Errorf("%s: pace %v, want %v", r.name, got, r.want)
		}
	}
}

// TestTypedMore: two typed weights that agree on a third of a fill more mean that gas was put in; on a fifth more they may mean a hose or a shoe.
func TestTypedMore(t *testing.T) {
	for share, want := range map[float64]bool{0.2: false, 0.37: true} {
		c := New(Options{Tare: 15000, NetFill: 10000, Seed: 1})
		at := time.Date(2026, 1, 1, 12, 0, 0, 0, time.UTC)
		gas, fills := 9900.0, 0
		c.Apply(record.Event{At: at, Kind: record.Filled, Net: 10000})
		for week := range 14 {
			if week == 12 {
				gas += share * 10000
			}
			for _, f := range c.Apply(record.Event{Kind: record.Weighed, At: at.AddDate(0, 0, 7*week), Gross: unit.Grams(15000 + gas), Origin: record.Manual}) {
				if f.Kind == FillSeen {
					fills++
				}
			}
			gas -= 500
		}
		if fills > 0 != want {
			t.Errorf("%.0f %% of a fill more: %d fills", 100*share, fills)
		}
	}
}
