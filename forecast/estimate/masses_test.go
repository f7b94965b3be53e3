package estimate

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// TestShortfall: OIML R 87:2016, Table 1, with the bounds of each line (from memory).
func TestShortfall(t *testing.T) {
	for net, want := range map[float64]float64{40: 3.6, 75: 4.5, 150: 6.75, 250: 9, 425: 12.75, 750: 15, 2270: 34.05, 9070: 136.05, 12000: 150, 22680: 226.8} {
		if got := shortfall(net); math.Abs(got-want) > 1e-9 {
			t.Errorf("%v g: %v, want %v", net, got, want)
		}
	}
	mean, sd := fillOf(10000)
	between(t, "mean of a fill of 10 kg: evenly between 9.7 and 10", mean, 9850, 9850)
	between(t, "its sd, 300/√12", sd, 86.60, 86.61)
}

// TestMassesGrow: the offset of 25 kg is known to some 100 g, that of 1.4 kg to some grams.
func TestMassesGrow(t *testing.T) {
	large, small := Options{House: 16000, NetFill: 9070}, Options{House: 1000, NetFill: 425}
	between(t, "25 kg: √(75² + 80² + 29²)", large.offsetSD(), 110, 116)
	between(t, "1.4 kg: √(4.3² + 5² + 2.9²)", small.offsetSD(), 6.9, 7.4)
	between(t, "typed, on a bathroom scale", large.typedSD(), 100, 100)
	between(t, "typed, on a kitchen scale", small.typedSD(), 7.1, 7.2)
}

// TestHeld compares the moments of a truncated normal with sums over gonum's quantiles.
func TestHeld(t *testing.T) {
	for _, n := range []Normal{{50, 30}, {-20, 40}, {5000, 60}, {9100, 200}, {9500, 90}} {
		const lo, hi, many = 0, 9070, 200000
		ref := distuv.Normal{Mu: n.Mean, Sigma: n.SD}
		a, b := ref.CDF(lo), ref.CDF(hi)
		var mean, sq float64
		for i := range many {
			x := ref.Quantile(a + (b-a)*(float64(i)+0.5)/many)
			mean, sq = mean+x/many, sq+x*x/many
		}
		got := held(n, lo, hi)
		between(t, "mean", got.Mean, mean-0.05, mean+0.05)
		between(t, "sd", got.SD, math.Sqrt(sq-mean*mean)-0.05, math.Sqrt(sq-mean*mean)+0.05)
	}
}

// TestScaleOfStudent: what see weighs slips by makes student12 a density.
func TestScaleOfStudent(t *testing.T) {
	ref := distuv.StudentsT{Mu: 0, Sigma: 3, Nu: 12}
	between(t, "student12 over the density", student12(0, 9)/ref.Prob(0), studentScale-1e-4, studentScale+1e-4)
}

// TestSlipsBeforeJumps: of one odd typed weight it is open what it was, two that agree are believed; one of a working scale that nothing explains makes the gas
// uncertain, the next one tells.
func TestSlipsBeforeJumps(t *testing.T) {
	s := measurement{y: 5000, r: 100 * 100, slip: slipShare, astray: astrayPerYear * 7 / 365.25, full: 9070, gross: 24000}
	g := gauss{m: 8000, mm: 120 * 120, oo: 50 * 50, uu: 0.1, xx: 0.1, u: 3.5}
	_, right := g.update(s)
	if right > 1e-9 {
		t.Errorf("a weight 18 sigmas off is right with %v", right)
	}
	between(t, "gas after one odd weight, g", g.m, 5500, 6200)
	between(t, "its sd, g", math.Sqrt(g.mm), 1200, 1500)
	s.astray = 0
	g.update(s)
	between(t, "gas after the second, g", g.m, 4950, 5080)
	between(t, "its sd, g", math.Sqrt(g.mm), 50, 120)
}
