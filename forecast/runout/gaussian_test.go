package runout

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

func passage(t *testing.T, r reftest.Row) Passage {
	t.Helper()
	return Passage{unit.Grams(r.Num(t, "distance_g")), unit.GramsPerDay(r.Num(t, "drift_g_per_day")), r.Num(t, "sigma_g_per_sqrt_day")}
}

// TestInverseGaussian: quantiles and densities by SciPy's invgauss, ten digits printed; R's statmod agrees within 5e-15. The
// probability of a printed quantile is off by its rounding only.
func TestInverseGaussian(t *testing.T) {
	for _, r := range reftest.Rows(t, "first_passage_inverse_gaussian") {
		g, p, at := passage(t, r), r.Num(t, "probability"), r.Num(t, "quantile_day")
		reftest.Near(t, "mean", float64(g.Mean()), r.Num(t, "mean_day"), 1e-9)
		reftest.Near(t, "quantile", float64(g.Quantile(p)), at, 1e-9)
		reftest.Near(t, "density", g.PDF(unit.Days(at)), r.Num(t, "pdf_per_day_at_quantile"), 5e-8)
		reftest.Within(t, "probability", g.CDF(unit.Days(at)), p, 1e-9)
	}
}

// TestFirstPassageCDF: SciPy and the closed form, twelve digits printed, down to probabilities of 1e-29, within 2e-11; where
// the time itself is printed with ten digits (133.3333333) within what that makes. That the level is below the barrier at t is
// less likely than that it was so at some time before.
func TestFirstPassageCDF(t *testing.T) {
	for _, r := range reftest.Rows(t, "first_passage_cdf") {
		g, at := passage(t, r), unit.Days(r.Num(t, "t_day"))
		got := g.CDF(at)
		rounding := 5e-10 * float64(at) * g.PDF(at) / got
		reftest.Near(t, "probability", got, r.Num(t, "cdf_first_passage_by_t"), 2e-11+rounding)
		if below := r.Num(t, "normal_cdf_of_level_at_t_below_barrier"); got < below-1e-12 {
			t.Errorf("%+v at %v: %g, below the level's own %g", g, at, got, below)
		}
	}
}

// TestPassageEdges: no drift (Lévy: erfc(a/(s√(2t)))), no chance, nothing to go, and exponents of 36000 that would overflow.
func TestPassageEdges(t *testing.T) {
	levy := Passage{100, 0, 10}
	reftest.Near(t, "Lévy", levy.CDF(100), math.Erfc(1/math.Sqrt2), 1e-14)
	if !math.IsInf(float64(levy.Mean()), 1) {
		t.Errorf("mean without drift %v", levy.Mean())
	}
	sure := Passage{100, 10, 0}
	if sure.CDF(9.99) != 0 || sure.CDF(10) != 1 || sure.Quantile(0.3) != 10 {
		t.Error("what is certain is not")
	}
	gone := Passage{-5, 10, 3}
	if gone.CDF(0) != 1 || gone.Quantile(0.9) != 0 || gone.Mean() != 0 {
		t.Error("what is gone is not")
	}
	sharp := Passage{10000, 45, 5} // median of a narrow law is near its mean, 222.2 days
	reftest.Near(t, "narrow", float64(sharp.Quantile(0.5)), 10000.0/45, 1e-4)
	if p := sharp.CDF(unit.Days(math.Inf(1))); p != 1 {
		t.Errorf("in the end %v", p)
	}
}

// TestPassageIsADistribution: it rises within [0, 1], the quantile inverts it, and the density integrates to it.
func TestPassageIsADistribution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := Passage{
			unit.Grams(rapid.Float64Range(1, 20000).Draw(t, "distance")),
			unit.GramsPerDay(rapid.Float64Range(0.5, 200).Draw(t, "rate")),
			rapid.Float64Range(0.5, 100).Draw(t, "volatility"),
		}
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "p")
		at := g.Quantile(p)
		reftest.Within(t, "quantile inverts", g.CDF(at), p, 1e-9)
		if a, b := g.CDF(at*0.99), g.CDF(at*1.01); a > p || b < p || a < 0 || b > 1 {
			t.Errorf("does not rise: %g %g %g", a, p, b)
		}
		const steps = 2000 // trapezia over the logarithm of time, in which the density is smooth
		lo, hi := math.Log(float64(g.Quantile(0.001))), math.Log(float64(g.Quantile(0.999)))
		sum := 0.0
		for i := range steps + 1 {
			x := math.Exp(lo + (hi-lo)*float64(i)/steps)
			w := 1.0
			if i == 0 || i == steps {
				w = 0.5
			}
			sum += w * x * g.PDF(unit.Days(x))
		}
		reftest.Within(t, "integral of the density", sum*(hi-lo)/steps, 0.998, 1e-5)
	})
}

// TestErfcx against the identity at both sides of the change-over; erfcx(10) = 0.0561409927438226 (mpmath, from memory).
func TestErfcx(t *testing.T) {
	reftest.Near(t, "10", erfcx(10), 0.0561409927438226, 1e-12)
	for x := 10.0; x < 25; x += 0.5 {
		reftest.Near(t, "both ways", erfcx(x), math.Exp(x*x)*math.Erfc(x), 1e-12)
	}
}
