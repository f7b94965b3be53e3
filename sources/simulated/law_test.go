package simulated

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"
)

// TestDemandFollowsItsLaw compares what people wanted over three years of 12 houses of each kind with the
// conditional expectation of the law, Σλ·m, in units of its standard deviation, √Σλ·m²(1+1/6): each sum is
// close to normal, and all together have mean square 1.
func TestDemandFollowsItsLaw(t *testing.T) {
	var z []float64
	for _, k := range Kinds {
		for seed := range uint64(12) {
			d := newDemand(Options{Seed: seed, Start: start, Kind: k}.withDefaults())
			for range 3 * 365 {
				d.drawDay()
			}
			x := (d.wanted - d.mean) / math.Sqrt(d.vary)
			if math.Abs(x) > 4.5 { // chance 1e-5 each
				t.Errorf("%s, seed %d: %.0f g wanted, law says %.0f ± %.0f", k, seed, d.wanted, d.mean, math.Sqrt(d.vary))
			}
			z = append(z, x*x)
		}
	}
	if m, tol := stat.Mean(z, nil), 4*math.Sqrt(2/float64(len(z))); math.Abs(m-1) > tol {
		t.Errorf("mean square of the standardised sums is %.3f, want 1 ± %.3f", m, tol)
	}
}

// TestUseIsNearU: without trips, over many houses, residents use U on average. The level adds about 0.2 sd
// a house, wandering with a time constant of 60 days, so 40 houses over three years agree within 5 %.
func TestUseIsNearU(t *testing.T) {
	for _, k := range []Kind{Steady, Seasonal, Weekend, Sporadic} {
		sum := 0.0
		const houses, n = 40, 3 * 365
		for seed := range uint64(houses) {
			d := newDemand(Options{Seed: seed, Start: start, Kind: k, Use: 40}.withDefaults())
			d.law.trip, d.law.holiday = math.Inf(1), math.Inf(1)
			for range n {
				d.drawDay()
			}
			sum += d.wanted / n
		}
		if got := sum / houses; math.Abs(got/40-1) > 0.05 {
			t.Errorf("%s: %.2f g/day, want 40", k, got)
		}
	}
}

// shareOf is the part of the residents' servings over four years that lies where in says.
func shareOf(k Kind, in func(time.Time) bool) float64 {
	hit, all := 0.0, 0.0
	for seed := range uint64(15) {
		d := newDemand(Options{Seed: seed, Start: start, Kind: k}.withDefaults())
		for range 4 * 365 {
			d.drawDay()
			for _, w := range d.today.wishes {
				if w.person == len(d.people) {
					continue
				}
				all++
				if in(w.at) {
					hit++
				}
			}
		}
	}
	return hit / all
}

func TestKindsAreWhatTheySay(t *testing.T) {
	weekend := func(t time.Time) bool {
		return t.Weekday() == time.Friday || t.Weekday() == time.Saturday || t.Weekday() == time.Sunday
	}
	if s := shareOf(Weekend, weekend); math.Abs(s-5./6) > 0.03 {
		t.Errorf("weekend: %.3f on Friday to Sunday, want 5/6", s)
	}
	if s := shareOf(Steady, weekend); math.Abs(s-3./7) > 0.03 {
		t.Errorf("steady: %.3f on Friday to Sunday, want 3/7", s)
	}
	// With a = 0.55 ± 0.15 the half year about the 200th day takes (1 + L0(a)/I0(a))/2 ≈ 0.66, L0 the modified
	// Struve function: L0(0.55) ≈ (2/π)(0.55 + 0.55³/9).
	summer := func(t time.Time) bool { return math.Cos(yearAngle(t)) > 0 }
	want := (1 + 2/math.Pi*(0.55+math.Pow(0.55, 3)/9)/besselI0(0.55)) / 2
	if s := shareOf(Seasonal, summer); math.Abs(s-want) > 0.03 {
		t.Errorf("seasonal: %.3f in the warm half, want %.3f", s, want)
	}
	vac := func(t time.Time) bool { v, _ := vacation(t); return v }
	if s := shareOf(StudentFlat, vac); s > 0.2 { // 112 days of 365 at 30 % would be 0.12
		t.Errorf("student flat: %.3f in vacations", s)
	}
	late := func(t time.Time) bool { return t.Sub(start) > 2*365*24*time.Hour }
	// A = 2 on average: (first two years) 2·365 + (A−1)(730 − 120(1−e^−6.1)) against 730·A.
	if s := shareOf(Growing, late); math.Abs(s-1460/(1460+730+610.)) > 0.04 {
		t.Errorf("growing: %.3f in the later half, want 0.52", s)
	}
}

// TestSporadicRests: days without any serving of the residents are at least the 10/16 of the spells.
func TestSporadicRests(t *testing.T) {
	rest, all := 0.0, 0.0
	for seed := range uint64(20) {
		d := newDemand(Options{Seed: seed, Start: start, Kind: Sporadic, Use: 60}.withDefaults())
		for range 1000 {
			d.drawDay()
			all++
			if !d.on {
				rest++
			}
		}
	}
	if got := rest / all; math.Abs(got-10./16) > 0.03 {
		t.Errorf("%.3f of the days rest, want 0.625", got)
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
	for _, a := range []float64{0.1, 0.4, 0.7} {
		sum := 0.0
		for d := range 1461 {
			sum += seasonAt(a, start.AddDate(0, 0, d))
		}
		if m := sum / 1461; math.Abs(m-1) > 2e-3 {
			t.Errorf("a = %v: mean over four years is %v", a, m)
		}
	}
}

// TestBesselI0 against Abramowitz and Stegun (1964), table 9.8 (values from memory).
func TestBesselI0(t *testing.T) {
	for x, want := range map[float64]float64{0: 1, 0.5: 1.0634833707, 1: 1.2660658778} {
		if got := besselI0(x); math.Abs(got-want) > 1e-9 {
			t.Errorf("I0(%v) = %v, want %v", x, got, want)
		}
	}
}

// TestLevel: an Ornstein-Uhlenbeck level sampled daily is an autoregression with coefficient exp(−1/60) and
// the stationary sd it was given.
func TestLevel(t *testing.T) {
	d := newDemand(Options{Start: start, Kind: Seasonal}.withDefaults()) // σ = 0.2
	x := make([]float64, 200_000)
	for i := range x {
		d.wander()
		x[i] = d.level
	}
	_, sd := stat.MeanStdDev(x, nil)
	near(t, "sd of the level", sd, 0.2, 4*0.2*math.Sqrt(60/(200_000.*1))) // about 120 days decorrelate
	near(t, "correlation of neighbours", stat.Correlation(x[1:], x[:len(x)-1], nil), math.Exp(-1./60), 0.002)
}
