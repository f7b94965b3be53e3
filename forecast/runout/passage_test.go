package runout_test

import (
	"math"
	"testing"

	"tarebell/forecast/unit/reftest"
)

// passage is the probability that gas drawn at the mean rate v g/day, in many small independent servings that make it wander by s g/√day, has gone down by a
// grams within t days, all above 0: the inverse Gaussian distribution (Schrödinger 1915; Folks & Chhikara, JRSS B 40 (1978) 263-289, from memory)
//
//	Φ((vt-a)/(s√t)) + exp(2va/s²)·Φ(-(vt+a)/(s√t))
//
// with the second term written as exp(-z²/2)·erfcx/2, so that a large exponent does no harm. It is what the forecast comes to for a household that never
// changes.
func passage(a, v, s, t float64) float64 {
	if a <= 0 || t <= 0 {
		return map[bool]float64{true: 1}[a <= 0]
	}
	spread := s * math.Sqrt(t)
	z, w := (v*t-a)/spread, (v*t+a)/spread
	return math.Min(1, math.Erfc(-z/math.Sqrt2)/2+math.Exp(-z*z/2)*erfcx(w/math.Sqrt2)/2)
}

// erfcx is exp(x²)·erfc(x) for x ≥ 0; from 10 on by its asymptotic series 1/(x√π)·Σ(-1)ⁿ(2n-1)!!/(2x²)ⁿ (Abramowitz &
// Stegun 7.1.23), of which 12 terms are exact to 1e-15 there.
func erfcx(x float64) float64 {
	if x < 10 {
		return math.Exp(x*x) * math.Erfc(x)
	}
	sum, term := 1.0, 1.0
	for n := 1; n <= 12; n++ {
		term *= -float64(2*n-1) / (2 * x * x)
		sum += term
	}
	return sum / (x * math.Sqrt(math.Pi))
}

// TestPassage: SciPy and the closed form, twelve digits printed, down to probabilities of 1e-29; where the time itself is printed with ten digits, within
// what that makes.
func TestPassage(t *testing.T) {
	for _, r := range reftest.Rows(t, "first_passage_cdf") {
		got := passage(r.Num(t, "distance_g"), r.Num(t, "drift_g_per_day"), r.Num(t, "sigma_g_per_sqrt_day"), r.Num(t, "t_day"))
		reftest.Near(t, "probability", got, r.Num(t, "cdf_first_passage_by_t"), 1e-7)
	}
}
