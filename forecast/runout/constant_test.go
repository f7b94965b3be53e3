package runout_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tarebell/forecast/estimate"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

const servingOf = 8.0 // g

// steady is an invented household that draws servings at a constant mean rate around the clock, weighed every three hours
// to 5 g for 360 days.
func steady(use float64, seed uint64) (*estimate.Filter, time.Time) {
	const fill, house, days = 20000, 15000, 360
	f := estimate.New(estimate.Options{House: house, NetFill: fill, Heel: 150, UsePrior: unit.GramsPerDay(use), Serving: servingOf, Seed: 1})
	r := rand.New(rand.NewPCG(seed, 5))
	at := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	net := float64(fill)
	f.Filled(at, fill, 0)
	next := r.ExpFloat64() * servingOf / use
	for i := range days * 8 {
		for t := float64(i) / 8; next < t; next += r.ExpFloat64() * servingOf / use {
			net -= servingOf
		}
		f.Observe(estimate.Observation{At: at.Add(time.Duration(i) * 3 * time.Hour), Gross: unit.Grams(5 * math.Round((house+net)/5)), SD: 5})
	}
	return f, at.Add(days * 24 * time.Hour)
}

// mixed is the closed form averaged over what the estimate says it does not know: a normal net gas and a log-normal use,
// 16 quantiles of each.
func mixed(s estimate.State, level, t float64) (p float64) {
	const n = 16
	v := math.Log1p(math.Pow(s.Use.SD/s.Use.Mean, 2))
	for i := range n {
		use := s.Use.Mean * math.Exp(math.Sqrt(v)*normal(i, n)-v/2)
		for k := range n {
			gas := s.Gas.Mean + s.Gas.SD*normal(k, n)
			p += passage(gas-level, use, math.Sqrt(servingOf*use), t) / (n * n)
		}
	}
	return p
}

// told is the distribution function at t of the density p(s)·w(s), made to sum to 1, when mixed is that of p: what the forecast tells, since it draws anew with
// weights w = (1+s)^-½ for a household whose level is learned by a scale. By parts, ∫p·w = F·w - ∫F·dw.
func told(s estimate.State, level float64) func(t float64) float64 {
	const step, n = 0.2, 500
	weight := func(t float64) float64 { return 1 / math.Sqrt(1+t) }
	var upTo [n + 1]float64
	sum := 0.0
	for i := range upTo {
		t := step * float64(i)
		f := mixed(s, level, t)
		if i > 0 {
			sum += f * (weight(t-step) - weight(t))
		}
		upTo[i] = f*weight(t) + sum
	}
	return func(t float64) float64 {
		k := min(int(t/step), n-1)
		share := t/step - float64(k)
		return (upTo[k] + share*(upTo[k+1]-upTo[k])) / upTo[n]
	}
}

func normal(i, n int) float64 { return math.Sqrt2 * math.Erfinv((2*float64(i)+1)/float64(n)-1) }

// TestConstantRate: for a household that has not changed for a year the simulated forecast is the closed form, mixed over
// what the estimate says it does not know, as long as the near future is asked about. It is so only approximately, because
// the forecast allows for days away, spells and a level that returns to its long-run mean: every quantile is within 0.10 of its
// probability and on average within 0.04 (measured: under 0.10 and 0.022 for 200 and 300 g; 512 draws alone make about 0.02).
func TestConstantRate(t *testing.T) {
	off, n := 0.0, 0.0
	for _, use := range []float64{25, 40} {
		for seed := range uint64(2) {
			f, now := steady(use, seed)
			s := f.State(now)
			for _, distance := range []float64{200, 300} {
				level := s.Gas.Mean - distance
				cdf := told(s, level)
				_, out := f.Forecast(now, unit.Grams(level), unit.Grams(level))
				for _, p := range runout.Probabilities {
					got := cdf(float64(out.Quantile(p)))
					reftest.Within(t, fmt.Sprintf("%g g/day, %g g to go, seed %d: closed form at the %g quantile", use, distance, seed, p), got, p, 0.10)
					off, n = off+math.Abs(got-p), n+1
				}
			}
		}
	}
	t.Logf("off by %.3f on average", off/n)
	if off/n > 0.04 {
		t.Errorf("quantiles are off by %.3f on average, want at most 0.04", off/n)
	}
}

// TestTimes: of a distribution that is made a tenth as long, what lies beyond 5 days is brought no nearer than that.
func TestTimes(t *testing.T) {
	d := runout.FromDraws([]unit.Days{1, 10, 100}).Times(0.1, 5)
	for p, want := range map[float64]unit.Days{0.1: 1, 0.5: 5, 0.9: 10} {
		if got := d.Quantile(p); got != want {
			t.Errorf("quantile %g: %g days, want %g", p, float64(got), float64(want))
		}
	}
}
