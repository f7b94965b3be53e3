package forecast

import (
	"math"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/forecast/unit/reftest"
)

// TestSoonest: nothing is said before a month; then no use is expected to be half as much again as ever, filled or not.
func TestSoonest(t *testing.T) {
	run := func(n int, use func(day int) float64) *days {
		d, net := &days{}, 9000.0
		for day := range n {
			if net -= use(day); net < 100 {
				net = 9000
				d.refilled()
				continue
			}
			d.add(day, unit.Grams(net))
		}
		return d
	}
	every := func(n int, g float64) func(int) float64 {
		return func(day int) float64 {
			if day%n == n-1 {
				return g
			}
			return 0
		}
	}
	for _, c := range []struct {
		name        string
		days        *days
		net         float64
		least, most float64
	}{
		{"a fortnight", run(14, every(1, 100)), 3000, 0, 0},
		{"100 g a day: 3 kg in 20 days at 150", run(100, every(1, 100)), 3000, 15, 20},
		{"the same with fills", run(399, every(1, 100)), 3000, 15, 20},
		{"700 g once in four weeks: 8 kg in 8 times 1050", run(120, every(28, 700)), 8000, 140, 250},
		{"less than one time takes", run(120, every(28, 700)), 500, 0, 0},
		{"nothing ever drawn", run(120, every(1, 0)), 500, 10_000, math.Inf(1)},
	} {
		if got := c.days.soonest(c.net); got < c.least || got > c.most {
			t.Errorf("%s: %.0f days, want %g to %g", c.name, got, c.least, c.most)
		}
	}
}

// TestSoonestOfRealHomes: of the months and fortnights of real homes few go beyond what is held for possible by the three times as many days before them.
func TestSoonestOfRealHomes(t *testing.T) {
	n, over := 0, 0
	for _, file := range []string{"water_daily.csv", "electricity_sceaux_daily.csv", "electricity_sgsc_daily.csv"} {
		for _, home := range reftest.Homes(t, file) {
			for _, length := range []int{10, 14, 30} {
				for from := 0; from+4*length <= len(home); from += length {
					d, net := &days{}, 1e6
					for day, use := range home[from : from+max(3*length, monthly)] {
						if !math.IsNaN(use) {
							net -= use
							d.add(day, unit.Grams(net))
						}
					}
					used := 0.0
					for _, use := range home[from+3*length : from+4*length] {
						used += max(use, 0)
					}
					n++
					if d.soonest(used) > float64(length) {
						over++
					}
				}
			}
		}
	}
	t.Logf("%d of %d", over, n)
	if n < 500 || float64(over) > 0.03*float64(n) {
		t.Errorf("%d of %d spans used more than held for possible, want at most 3 in 100", over, n)
	}
}

// TestSeldomUsed: a hall that draws 700 g on one evening in some weeks is not told that 8 kg end within weeks, though the evenings tell of 700 g a day.
func TestSeldomUsed(t *testing.T) {
	s := newSteady()
	s.opt.Tare, s.opt.NetFill, s.gas = 13000, 9070, 8950
	c := New(s.opt)
	for day := range 170 {
		for h := range 24 {
			s.at = s.at.Add(time.Hour)
			if day%24 == 20 && h >= 18 && h < 22 {
				s.gas -= 175
			}
			c.Apply(record.Event{Kind: record.Weighed, At: s.at, Gross: unit.Grams(14000 + s.gas + 4*s.r.NormFloat64())})
		}
		if day < 40 || s.gas < 5000 {
			continue
		}
		if o := c.Outlook(s.at); o.Learned && o.RunOut.Quantile(0.1) < 45 {
			t.Fatalf("day %d: %.0f g are told to last %.0f days at the least", day, s.gas, o.RunOut.Quantile(0.1))
		}
	}
}
