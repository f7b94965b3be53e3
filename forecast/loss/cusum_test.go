package loss

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"tarebell/forecast/unit/reftest"
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
	// NIST/SEMATECH e-Handbook 6.3.2.4: EWMA0 = 50, λ = 0.3; averages as printed.
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

// TestRunLength: how long a one-sided sum of independent normal values goes on until it signals. R spc 0.6.7, xcusum.arl, r = 100 (computed
// elsewhere); NIST/SEMATECH e-Handbook 6.3.2.3.1 has 336, 8.38, 930 and 10.4 for the first four. 6 % is four standard errors of 4000 runs.
func TestRunLength(t *testing.T) {
	const runs = 4000
	r := rand.New(rand.NewPCG(6, 7))
	for _, c := range []struct{ k, h, shift, want float64 }{
		{0.5, 4, 0, 335.3676}, {0.5, 4, 1, 8.383202}, {0.5, 5, 0, 930.887}, {0.5, 5, 1, 10.37598}, {0.25, 8.01, 0.5, 28.80299}, {0.75, 3.34, 0.25, 168.7183},
	} {
		total := 0.0
		for range runs {
			s := CUSUM{K: c.k, H: c.h}
			for total++; !s.Add(c.shift + r.NormFloat64()); total++ {
			}
		}
		reftest.Near(t, fmt.Sprintf("k %g, h %g, shift %g", c.k, c.h, c.shift), total/runs, c.want, 0.06)
	}
}
