package forecast

import (
	"math"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/forecast/unit/reftest"
)

// TestLasts: nothing is said before a month; then no use is expected to be half as much again as ever or two thirds of the least, filled or not.
func TestLasts(t *testing.T) {
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
	none := math.Inf(1)
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
		least, most [2]float64 // what either lies between
	}{
		{"25 days", run(25, every(1, 100)), 500, [2]float64{0, 0}, [2]float64{none, none}},
		{"35 days of 100 g: 500 g in 3 at 150, in 8 at 67", run(35, every(1, 100)), 500, [2]float64{3, 4}, [2]float64{7, 9}},
		{"100 g a day: 3 kg in 20 days at 150, in 45 at 67", run(200, every(1, 100)), 3000, [2]float64{15, 20}, [2]float64{44, 56}},
		{"the same with fills", run(399, every(1, 100)), 3000, [2]float64{15, 20}, [2]float64{44, 60}},
		{"700 g once in four weeks: 8 kg in 8 times 1050, in 17 times 467", run(120, every(28, 700)), 8000, [2]float64{140, 250}, [2]float64{450, 750}},
		{"less than one time takes", run(120, every(28, 700)), 500, [2]float64{0, 0}, [2]float64{28, 50}},
		{"5 g a day that scatter by 200", run(200, func(day int) float64 { return 5 + 400*(float64(day%2)-0.5) }), 3000, [2]float64{0, 600}, [2]float64{600, none}},
		{"nothing ever drawn", run(120, every(1, 0)), 500, [2]float64{10_000, none}, [2]float64{none, none}},
	} {
		least, most := c.days.lasts(c.net)
		if least < c.least[0] || least > c.least[1] || most < c.most[0] || most > c.most[1] {
			t.Errorf("%s: %.0f to %.0f days, want %v and %v", c.name, least, most, c.least, c.most)
		}
	}
}

// TestLastsInRealHomes: of the spans of 10, 14 and 30 days of real homes few use more, or less, than is held for possible by the three times as many days before them.
func TestLastsInRealHomes(t *testing.T) {
	n, more, less := 0.0, 0.0, 0.0
	for _, file := range []string{"water_daily.csv", "electricity_sceaux_daily.csv", "electricity_sgsc_daily.csv"} {
		for _, home := range reftest.Homes(t, file) {
			for _, length := range []int{10, 14, 30} {
				for from := 0; from+4*length+1 <= len(home); from += length {
					d, net := &days{}, 1e6
					for day, use := range home[from : from+3*length+1] {
						if !math.IsNaN(use) {
							net -= use
							d.add(day, unit.Grams(net))
						}
					}
					used := 0.0
					for _, use := range home[from+3*length+1 : from+4*length+1] {
						used += max(use, 0)
					}
					n++
					if least, most := d.lasts(used); least > float64(length) {
						more++
					} else if most < float64(length) {
						less++
					}
				}
			}
		}
	}
	t.Logf("of %g spans %g used more, %g less", n, more, less)
	if n < 500 || more > 0.03*n || less > 0.1*n {
		t.Errorf("of %g spans %g used more than held for possible, %g less; want at most 3 and 10 in 100", n, more, less)
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
		if o := c.Outlook(s.at); o.Learned && o.RunOut.Quantile(0.1) < 40 {
			t.Fatalf("day %d: %.0f g are told to last %.0f days at the least", day, s.gas, o.RunOut.Quantile(0.1))
		}
	}
}
