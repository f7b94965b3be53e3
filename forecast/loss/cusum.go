package loss

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
)

// CUSUM is the one-sided tabular cumulative sum of Page (1954): S = max(0, S + z - K), a signal when S > H.
// z is standardised, K and H are in standard deviations.
type CUSUM struct {
	K, H float64
	S    float64 // start it above 0 for the head start of Lucas & Crosier (1982)
}

// Add takes the next value and reports a signal.
func (c *CUSUM) Add(z float64) bool {
	c.S = math.Max(0, c.S+z-c.K)
	return c.S > c.H
}

// EWMA is the exponentially weighted moving average: E = λ·x + (1-λ)·E.
type EWMA struct {
	Lambda float64 // in (0, 1]
	E      float64
}

// Add takes the next value and returns the average.
func (e *EWMA) Add(x float64) float64 {
	e.E += e.Lambda * (x - e.E)
	return e.E
}

// Limits are the control limits L standard deviations of the average away from target after many values of
// standard deviation sd: target ± L·sd·√(λ/(2-λ)) (NIST/SEMATECH e-Handbook 6.3.2.4).
func (e *EWMA) Limits(target, sd, l float64) (lower, upper float64) {
	w := l * sd * math.Sqrt(e.Lambda/(2-e.Lambda))
	return target - w, target + w
}

// ErrRunLength says that a run length could not be computed for the given K and H.
var ErrRunLength = errors.New("average run length: need k >= 0, h > 0, and a finite shift")

// nodes of the quadrature; 80 give more digits than any published table.
const nodes = 80

// ARL is the average run length of a one-sided CUSUM that starts at start, for independent normal values of
// mean shift and standard deviation 1. It solves Page's integral equation
//
//	L(s) = 1 + L(0)·Φ(k-s-δ) + ∫₀ʰ L(x)·φ(x+k-s-δ) dx
//
// by the Nyström method with Gauss-Legendre nodes (Goel & Wu 1971; Vardeman & Ray 1985 for the normal case;
// both from memory).
func ARL(k, h, shift, start float64) (float64, error) {
	if !(k >= 0) || !(h > 0) || math.IsNaN(shift) || math.IsInf(shift, 0) || !(start >= 0 && start <= h) {
		return 0, ErrRunLength
	}
	x, w := make([]float64, nodes), make([]float64, nodes)
	quad.Legendre{}.FixedLocations(x, w, 0, h)
	// Unknowns: L(0), L(x₁) … L(xₙ).
	at := append([]float64{0}, x...)
	a := mat.NewDense(nodes+1, nodes+1, nil)
	b := mat.NewVecDense(nodes+1, nil)
	for i, s := range at {
		a.Set(i, 0, -phi(k-s-shift))
		for j := range x {
			a.Set(i, j+1, -w[j]*density(x[j]+k-s-shift))
		}
		a.Set(i, i, a.At(i, i)+1)
		b.SetVec(i, 1)
	}
	var l mat.VecDense
	if err := l.SolveVec(a, b); err != nil {
		return 0, ErrRunLength
	}
	v := 1 + l.AtVec(0)*phi(k-start-shift)
	for j := range x {
		v += w[j] * l.AtVec(j+1) * density(x[j]+k-start-shift)
	}
	return v, nil
}

// TwoSided is the average run length of two one-sided CUSUMs watching both directions (Kemp 1961):
// 1/L = 1/L⁺ + 1/L⁻.
func TwoSided(k, h, shift float64) (float64, error) {
	up, err := ARL(k, h, shift, 0)
	if err != nil {
		return 0, err
	}
	down, err := ARL(k, h, -shift, 0)
	if err != nil {
		return up, nil // never signals there
	}
	return 1 / (1/up + 1/down), nil
}

func phi(z float64) float64     { return math.Erfc(-z/math.Sqrt2) / 2 }
func density(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
