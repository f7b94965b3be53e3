package simulated

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"
)

// TestDemandFollowsItsLaw compares what people wanted over three years of 72 houses with the
// conditional expectation of the law, Σλ·m, in units of its standard deviation, √Σλ·m²(1+1/6): each sum is
// close to normal, and all together have mean square 1.
func TestDemandFollowsItsLaw(t *testing.T) {
	var z []float64
	for seed := range uint64(72) {
		d := newDemand(Options{Seed: seed, Start: start}.withDefaults())
		wanted, mean, vary := 0.0, 0.0, 0.0
		for range 3 * 365 {
			day := d.turn()
			for _, p := range d.people {
				n := d.servings(day, p)
				mean += n * p.mean
				vary += n * p.mean * p.mean * (1 + 1./servingShape)
			}
			wanted += mass(d.residents(day))
		}
		x := (wanted - mean) / math.Sqrt(vary)
		if math.Abs(x) > 4.5 { // chance 1e-5 each
			t.Errorf("seed %d: %.0f g wanted, law says %.0f ± %.0f", seed, wanted, mean, math.Sqrt(vary))
		}
		z = append(z, x*x)
	}
	if m, tol := stat.Mean(z, nil), 4*math.Sqrt(2/float64(len(z))); math.Abs(m-1) > tol {
		t.Errorf("mean square of the standardised sums is %.3f, want 1 ± %.3f", m, tol)
	}
}

// TestUseIsNearU: without trips, over many houses, residents use U on average. The level adds about 0.2 sd
// a house, wandering with a time constant of 60 days, so 40 houses over three years agree within 5 %.
func TestUseIsNearU(t *testing.T) {
	sum := 0.0
	const houses, n = 40, 3 * 365
	for seed := range uint64(houses) {
		d := newDemand(Options{Seed: seed, Start: start, Use: 40}.withDefaults())
		d.trip, d.away = math.Inf(1), math.Inf(1)
		for range n {
			sum += mass(d.residents(d.turn())) / n
		}
	}
	if got := sum / houses; math.Abs(got/40-1) > 0.05 {
		t.Errorf("%.2f g/day, want 40", got)
	}
}

func mass(ss []serving) (sum float64) {
	for _, s := range ss {
		sum += s.mass
	}
	return sum
}

// TestWeekends: Friday to Sunday take 5/6 of the residents' servings over four years.
func TestWeekends(t *testing.T) {
	hit, all := 0.0, 0.0
	for seed := range uint64(15) {
		d := newDemand(Options{Seed: seed, Start: start}.withDefaults())
		for range 4 * 365 {
			for _, w := range d.residents(d.turn()) {
				all++
				if day := w.at.Weekday(); day == time.Friday || day == time.Saturday || day == time.Sunday {
					hit++
				}
			}
		}
	}
	if s := hit / all; math.Abs(s-5./6) > 0.03 {
		t.Errorf("%.3f on Friday to Sunday, want 5/6", s)
	}
}

// TestServings: gamma of shape 6 has coefficient of variation 1/√6 and skewness 2/√6 (any table of
// distributions).
func TestServings(t *testing.T) {
	d := newDemand(Options{Start: start}.withDefaults())
	x := make([]float64, 200_000)
	for i := range x {
		x[i] = d.mass(6)
	}
	mean, sd := stat.MeanStdDev(x, nil)
	if math.Abs(mean-6) > 0.025 || math.Abs(sd/mean-1/math.Sqrt(6)) > 0.005 || math.Abs(stat.Skew(x, nil)-2/math.Sqrt(6)) > 0.05 {
		t.Errorf("mean %.3f, variation %.4f, skewness %.3f", mean, sd/mean, stat.Skew(x, nil))
	}
}

func TestSeasonHasMeanOne(t *testing.T) {
	sum := 0.0
	for d := range 1461 {
		sum += seasonAt(start.AddDate(0, 0, d))
	}
	if m := sum / 1461; math.Abs(m-1) > 1e-4 {
		t.Errorf("mean over four years is %v", m)
	}
}

// TestLevel: an Ornstein-Uhlenbeck level sampled daily is an autoregression with coefficient exp(−1/60) and
// the stationary sd it was given.
func TestLevel(t *testing.T) {
	d := newDemand(Options{Start: start}.withDefaults())
	x := make([]float64, 200_000)
	for i := range x {
		d.wander()
		x[i] = d.level
	}
	_, sd := stat.MeanStdDev(x, nil)
	near(t, "sd of the level", sd, sigma, 4*sigma*math.Sqrt(60/(200_000.*1))) // about 120 days decorrelate
	near(t, "correlation of neighbours", stat.Correlation(x[1:], x[:len(x)-1], nil), math.Exp(-1./60), 0.002)
}
