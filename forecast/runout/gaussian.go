package runout

import (
	"math"

	"tarebell/forecast/unit"
)

// Passage is the first time at which gas drawn at a constant mean rate, in many small independent servings, has gone down
// by a distance: first passage of Brownian motion with drift. It is the closed form of the run-out forecast for a
// household that never changes and is known exactly; everything that is uncertain about a real one makes its forecast wider.
//
// It is the inverse Gaussian distribution with mean a/v and shape a²/s² (Schrödinger 1915; Folks & Chhikara, JRSS B 40
// (1978) 263-289, from memory), for v = 0 the Lévy distribution, for s = 0 a certain moment.
type Passage struct {
	Distance   unit.Grams       // a, to be gone; 0 or less: it is gone already
	Rate       unit.GramsPerDay // v ≥ 0
	Volatility float64          // s ≥ 0, g/√day; servings of mean m and variance-to-mean φ make s² = φ·v
}

// Mean is a/v; +Inf when nothing is drawn.
func (g Passage) Mean() unit.Days {
	if g.Distance <= 0 {
		return 0
	}
	return unit.Days(float64(g.Distance) / float64(g.Rate))
}

// CDF is the probability that the distance is covered within t:
//
//	Φ((vt-a)/(s√t)) + exp(2va/s²)·Φ(-(vt+a)/(s√t))
//
// with the second term written as exp(-z²/2)·erfcx/2, so that a large exponent does no harm.
func (g Passage) CDF(t unit.Days) float64 {
	a, v, s := float64(g.Distance), float64(g.Rate), g.Volatility
	switch at := float64(t); {
	case math.IsNaN(at):
		return math.NaN()
	case at < 0:
		return 0
	case a <= 0:
		return 1
	case at == 0:
		return 0
	case s == 0:
		if v*at >= a {
			return 1
		}
		return 0
	case math.IsInf(at, 1):
		return 1
	default:
		spread := s * math.Sqrt(at)
		z, w := (v*at-a)/spread, (v*at+a)/spread
		return math.Min(1, phi(z)+math.Exp(-z*z/2)*erfcx(w/math.Sqrt2)/2)
	}
}

// PDF is the density at t > 0 per day, for a > 0 and s > 0: a/(s√(2πt³))·exp(-(a-vt)²/(2s²t)).
func (g Passage) PDF(t unit.Days) float64 { return math.Exp(-g.LogScore(t)) }

// LogScore is minus the logarithm of the density at t > 0, in nats, for a > 0 and s > 0.
func (g Passage) LogScore(t unit.Days) float64 {
	a, at, s := float64(g.Distance), float64(t), g.Volatility
	z := (a - float64(g.Rate)*at) / s
	return z*z/(2*at) + math.Log(2*math.Pi)/2 + 1.5*math.Log(at) + math.Log(s/a)
}

// Quantile is the time within which the distance is covered with probability p. It panics if p is outside [0, 1].
func (g Passage) Quantile(p float64) unit.Days {
	if !(p >= 0 && p <= 1) {
		panic("runout: quantile outside [0, 1]")
	}
	switch {
	case g.Distance <= 0 || p == 0:
		return 0
	case g.Volatility == 0:
		return g.Mean()
	case p == 1:
		return unit.Days(math.Inf(1))
	}
	return g.search(p)
}

// search brackets the quantile between doublings of the smaller of the two times that the law has, and halves the
// bracket until it cannot be halved.
func (g Passage) search(p float64) unit.Days {
	diffusive := math.Pow(float64(g.Distance)/g.Volatility, 2)
	hi := math.Min(float64(g.Mean()), diffusive)
	lo := hi
	for g.CDF(unit.Days(hi)) < p && !math.IsInf(hi, 1) {
		hi *= 2
	}
	for g.CDF(unit.Days(lo)) >= p && lo > 0 {
		lo /= 2
	}
	for {
		mid := lo + (hi-lo)/2
		if !(lo < mid && mid < hi) {
			return unit.Days(hi)
		}
		if g.CDF(unit.Days(mid)) < p {
			lo = mid
		} else {
			hi = mid
		}
	}
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
