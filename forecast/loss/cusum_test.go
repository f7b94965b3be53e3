package loss

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
)

// nist are the 20 group means of the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 (CUSUM control
// charts): target 325, k = 0.3175, h = 4.1959 in the units of the measurement.
var nist = []float64{
	324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
	324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
}

func TestCUSUMHandbook(t *testing.T) {
	// S_hi and S_lo as the handbook prints them, two decimals (row 20 is 19.035, printed 19.04).
	hi := []float64{0, 0, 0, 0, .03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04}
	lo := []float64{0, .01, 0, .33, 0, 0, .56, .72, .17, .25, .31, 0, 0, 0, 0, 0, 0, 0, 0, 0}
	up, down := CUSUM{K: 0.3175, H: 4.1959}, CUSUM{K: 0.3175, H: 4.1959}
	first := 0
	for i, x := range nist {
		a, b := up.Add(x-325), down.Add(325-x)
		if math.Abs(up.S-hi[i]) > 0.006 || math.Abs(down.S-lo[i]) > 0.006 {
			t.Errorf("group %d: %.4f, %.4f, want %.2f, %.2f", i+1, up.S, down.S, hi[i], lo[i])
		}
		if (a || b) && first == 0 {
			first = i + 1
		}
	}
	if first != 14 {
		t.Errorf("first signal at group %d, want 14", first)
	}
}

func TestEWMAHandbook(t *testing.T) {
	// NIST/SEMATECH e-Handbook 6.3.2.4: EWMA0 = 50, s = 2.0539, λ = 0.3; averages as printed. The limits are
	// from memory; they follow from s.
	x := []float64{52, 47, 53, 49.3, 50.1, 47, 51, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	want := []float64{
		50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
		50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
	}
	e := EWMA{Lambda: 0.3, E: 50}
	for i := range x {
		if got := e.Add(x[i]); math.Abs(got-want[i]) > 0.006 {
			t.Errorf("value %d: %.4f, want %.2f", i+1, got, want[i])
		}
	}
	lower, upper := e.Limits(50, 2.0539, 3)
	if math.Abs(lower-47.4115) > 2e-4 || math.Abs(upper-52.5884) > 2e-4 {
		t.Errorf("limits %.4f, %.4f, want 47.4115, 52.5884", lower, upper)
	}
}

func TestHeadStart(t *testing.T) {
	// Six Sigma: Advanced Tools for Black Belts and Master Black Belts (Wiley 2006), table 24.1, p. 376, after
	// Lucas & Crosier (1982), table 5: k = 0.5, h = 5, without and with a head start of 2.5.
	x := []float64{0.8, 1.9, 1.4, 2.0, 1.1, 0.7, 2.6}
	plain := []float64{0.3, 1.7, 2.6, 4.1, 4.7, 4.9, 7.0}
	fast := []float64{2.8, 4.2, 5.1, 6.6, 7.2, 7.4, 9.5}
	a, b := CUSUM{K: 0.5, H: 5}, CUSUM{K: 0.5, H: 5, S: 2.5}
	for i := range x {
		sa, sb := a.Add(x[i]), b.Add(x[i])
		if math.Abs(a.S-plain[i]) > 1e-9 || math.Abs(b.S-fast[i]) > 1e-9 {
			t.Errorf("value %d: %.2f, %.2f, want %.1f, %.1f", i+1, a.S, b.S, plain[i], fast[i])
		}
		if sa != (i == 6) || sb != (i >= 2) {
			t.Errorf("value %d: signals %v, %v", i+1, sa, sb)
		}
	}
}

func TestARL(t *testing.T) {
	// One- and two-sided run lengths: R spc 0.6.7, xcusum.arl, r = 100 (computed elsewhere). A one-sided chart
	// must not be compared with the two-sided tables of textbooks, which are half as long in control.
	for _, c := range []struct{ k, h, shift, one, two float64 }{
		{0.5, 4, 0, 335.3676, 167.6838},
		{0.5, 4, 0.25, 77.07852, 74.22403},
		{0.5, 4, 1, 8.383202, 8.383132},
		{0.5, 4, 4, 1.708457, 1.708457},
		{0.5, 5, 0, 930.887, 465.4435},
		{0.5, 5, 1, 10.37598, 10.37597},
		{0.25, 8.01, 0, 740.6649, 370.3324},
		{0.25, 8.01, 0.5, 28.80299, 28.80198},
		{0.75, 3.34, 0.25, 168.7183, 161.6854},
		{1, 2.52, 0, 745.6308, 372.8154},
		{0.25, 10, 0, 2071.572, 1035.786},
		{0.5, 8, 0.5, 84.00079, 84.00062},
		{0.5, 10, 0, 140265, 70132.49},
	} {
		one, err := ARL(c.k, c.h, c.shift, 0)
		if err != nil {
			t.Fatal(err)
		}
		two, err := TwoSided(c.k, c.h, c.shift)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(one/c.one-1) > 1e-5 || math.Abs(two/c.two-1) > 1e-5 {
			t.Errorf("k %g h %g shift %g: %.6g, %.6g, want %.6g, %.6g", c.k, c.h, c.shift, one, two, c.one, c.two)
		}
	}
	// NIST/SEMATECH e-Handbook 6.3.2.3.1, one-sided, as quoted by a public project.
	for _, c := range []struct{ h, shift, want, tol float64 }{{4, 0, 336, .003}, {4, 1, 8.38, .001}, {5, 0, 930, .002}, {5, 1, 10.4, .003}} {
		if got, _ := ARL(0.5, c.h, c.shift, 0); math.Abs(got/c.want-1) > c.tol {
			t.Errorf("handbook h %g shift %g: %.4g, want %.4g", c.h, c.shift, got, c.want)
		}
	}
	if _, err := ARL(-1, 4, 0, 0); err == nil {
		t.Error("negative k: no error")
	}
	plain, _ := ARL(0.5, 5, 1, 0)
	fast, _ := ARL(0.5, 5, 1, 2.5)
	if fast >= plain {
		t.Errorf("a head start does not shorten the run: %.3g, %.3g", fast, plain)
	}
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
