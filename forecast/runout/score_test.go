package runout

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

// TestPinball: made-up intervals; values computed from the definitions.
func TestPinball(t *testing.T) {
	for _, r := range reftest.Rows(t, "interval_and_pinball_scores") {
		lo, hi, y := unit.Days(r.Num(t, "lower")), unit.Days(r.Num(t, "upper")), unit.Days(r.Num(t, "y"))
		coverage := r.Num(t, "nominal_coverage")
		alpha := 1 - coverage
		low, high := float64(Pinball(alpha/2, lo, y)), float64(Pinball(1-alpha/2, hi, y))
		reftest.Within(t, "pinball loss of the lower end", low, r.Num(t, "pinball_lower"), 1e-9)
		reftest.Within(t, "pinball loss of the upper end", high, r.Num(t, "pinball_upper"), 1e-9)
		reftest.Near(t, "their sum", 2/alpha*(low+high), r.Num(t, "two_over_alpha_times_pinball_sum"), 2e-9)
	}
}

// TestQuantileLoss by hand: all seven quantiles at 10 and 12 happened: the p sum to 3.5, so 2·3.5·2/7 = 2; with 8 it is
// the same, and one that is right costs nothing.
func TestQuantileLoss(t *testing.T) {
	var q [7]unit.Days
	for i := range q {
		q[i] = 10
	}
	for y, want := range map[unit.Days]float64{12: 2, 8: 2, 10: 0} {
		reftest.Within(t, "loss", float64(QuantileLoss(q, y)), want, 1e-12)
	}
}

// TestQuantile: by hand, the k-th of n draws stands at (k-0.5)/n: of 1, 2, 3, 4 the quantile at 0.3 is 0.3·4 + 0.5 = 1.7.
func TestQuantile(t *testing.T) {
	d := FromDraws([]unit.Days{4, 2, 1, 3})
	for p, want := range map[float64]float64{0.125: 1, 0.3: 1.7, 0.5: 2.5, 0.8: 3.7, 1: 4} {
		reftest.Within(t, "quantile", float64(d.Quantile(p)), want, 1e-12)
	}
}

// TestBeyondTheHorizon: draws that never come cost as much as the latest time that counts, and no more.
func TestBeyondTheHorizon(t *testing.T) {
	never := unit.Days(math.Inf(1))
	d := FromDraws([]unit.Days{10, never, never, never})
	if q := d.Quantiles(110); q[0] != 10 || q[6] != 110 {
		t.Errorf("quantiles %v", q)
	}
	var unknown Distribution
	if !math.IsNaN(unknown.PIT(1)) {
		t.Error("an unknown time has a score")
	}
	if got := FromDraws([]unit.Days{1, 2, 2, 3}).PIT(2); got != 0.5 {
		t.Errorf("PIT with ties %v, want 0.5", got)
	}
}

// TestScoresAreLosses: never negative, and 0 only for a forecast that says nothing but what happened.
func TestScoresAreLosses(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		days := rapid.Float64Range(0, 2000)
		draws := rapid.SliceOfN(days, 1, 40).Draw(t, "draws")
		d := make([]unit.Days, len(draws))
		for i, x := range draws {
			d[i] = unit.Days(x)
		}
		y := unit.Days(days.Draw(t, "y"))
		dist := FromDraws(d)
		if s := QuantileLoss(dist.Quantiles(1500), min(y, 1500)); s < 0 || s > 1500 {
			t.Errorf("quantile loss %v", s)
		}
		if p := dist.PIT(y); p < 0 || p > 1 {
			t.Errorf("PIT %v", p)
		}
	})
}
