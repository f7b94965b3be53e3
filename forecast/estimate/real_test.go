package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

// series is the daily use of real households without the days that were not measured.
func series(t *testing.T, file string) (homes [][]float64) {
	for _, home := range reftest.Homes(t, file) {
		homes = append(homes, slices.DeleteFunc(home, math.IsNaN))
	}
	return homes
}

// TestRealHouseholds lets real homes draw gas the way they draw water or power: each series is scaled so that a cylinder of
// 9070 g lasts 90 days on average, is weighed, and filled again when it is empty. The forecasts at 60, 40, 25 and 15 % are
// counted. There are far fewer independent cylinders than forecasts, and their law is nobody's: leaks, homes that empty for good,
// seasons; so the demand is weaker than for invented households, and the forecast must still beat what is left over mean use
// since the fill.
func TestRealHouseholds(t *testing.T) {
	var n, in, loss, maker float64
	for _, file := range []string{"water_daily.csv", "electricity_sceaux_daily.csv", "electricity_sgsc_daily.csv"} {
		for i, use := range series(t, file) {
			for _, manual := range []bool{false, true} {
				a, b, c, d := realHome(use, manual)
				t.Logf("%s %d typed %v: p10-p90 holds %.2f of %.0f, loss %.3f, of the mean-use arithmetic %.3f", file, i+1, manual, b/a, a, c/a, d/a)
				n, in, loss, maker = n+a, in+b, loss+c, maker+d
			}
		}
	}
	t.Logf("all: %.3f of %.0f, loss %.4f, of the mean-use arithmetic %.4f", in/n, n, loss/n, maker/n)
	if in/n < 0.68 || in/n > 0.92 {
		t.Errorf("p10-p90 holds %.3f of %.0f run-outs, want 0.68 to 0.92", in/n, n)
	}
	if loss > 0.8*maker {
		t.Errorf("quantile loss %.4f, want at most 0.8 of the mean-use arithmetic's %.4f", loss/n, maker/n)
	}
}

// realHome plays one home and returns the number of forecasts, how many held the truth in p10-p90, their quantile loss and that of
// the gas left over the mean use since the fill, both relative to the true time.
func realHome(use []float64, manual bool) (n, in, loss, maker float64) {
	mean := 0.0
	for _, u := range use {
		mean += u / float64(len(use))
	}
	const net, heel, house = 9070.0, 120.0, 15000.0
	r := rand.New(rand.NewPCG(8, 8))
	f := New(Options{House: house, NetFill: net, Heel: heel, Seed: 4})
	fracs := []float64{0.6, 0.4, 0.25, 0.15}
	type ask struct {
		day   int
		q     [7]float64
		naive float64
	}
	var asked []ask
	gas, offset, next := 0.0, 70*r.NormFloat64(), 0
	filled := 0
	for d, u := range use {
		at := monday.AddDate(0, 0, d)
		u *= net / 90 / mean
		if gas-heel <= u { // runs out today, filled at once
			end := float64(d) + math.Max(gas-heel, 0)/math.Max(u, 1e-9)
			for _, a := range asked {
				y := math.Max(end-float64(a.day), 0.2)
				n++
				if a.q[1] <= y && y <= a.q[5] {
					in++
				}
				loss += pinball(a.q, y) / y
				x := a.naive
				maker += pinball([7]float64{x, x, x, x, x, x, x}, y) / y
			}
			gas, asked, filled = net*(0.97+0.03*r.Float64()), nil, d
			f.Filled(at, net, 0)
		}
		k := len(asked)
		if k < len(fracs) && gas < fracs[k]*net && d > filled+1 {
			_, q := f.Forecast(at, heel, 2500)
			a := ask{day: d, naive: math.Min(gas/((0.985*net-gas)/float64(d-filled)), 1500)}
			for i, p := range quantiles {
				a.q[i] = math.Min(float64(q.Quantile(p)), 1500)
			}
			asked = append(asked, a)
		}
		for h := 0; h < 24; h += 3 {
			if clock := h + 6; clock >= 9 && clock < 24 {
				gas -= u / 5
			}
			t, gross := at.Add(time.Duration(h)*time.Hour+30*time.Minute), house+offset+gas
			switch {
			case !manual:
				f.Observe(Observation{At: t, Gross: unit.Grams(math.Round((gross+20*r.NormFloat64())/5) * 5)})
			case h == 12 && d >= next:
				next = d + 1 + r.IntN(10)
				f.Observe(Observation{At: t, Gross: unit.Grams(math.Round((gross+150*r.NormFloat64())/100) * 100), Manual: true})
			}
		}
	}
	return n, in, loss, maker
}

// pinball is the mean of twice the quantile loss at the seven quantiles.
func pinball(q [7]float64, y float64) (s float64) {
	for i, p := range quantiles {
		w := p
		if y < q[i] {
			w = p - 1
		}
		s += 2 * w * (y - q[i]) / 7
	}
	return s
}
