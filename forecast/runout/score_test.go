package runout

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

// TestNormalScores: values by SciPy, CRPS checked there by integrating its definition; twelve digits are printed.
func TestNormalScores(t *testing.T) {
	for _, r := range reftest.Rows(t, "crps_normal") {
		n := Normal{unit.Days(r.Num(t, "mu")), unit.Days(r.Num(t, "sigma"))}
		y := unit.Days(r.Num(t, "y"))
		reftest.Near(t, "CRPS", float64(n.CRPS(y)), r.Num(t, "crps"), 1e-11)
		reftest.Near(t, "CRPS by its definition", float64(n.CRPS(y)), r.Num(t, "crps_numeric_integral"), 1e-8)
		reftest.Near(t, "log score", n.LogScore(y), r.Num(t, "log_score_nats"), 1e-11)
		reftest.Near(t, "PIT", n.CDF(y), r.Num(t, "pit"), 1e-11)
	}
}

// normalDraws are 4000 evenly likely quantiles of a normal.
func normalDraws(n Normal) Distribution {
	const many = 4000
	draws := make([]unit.Days, many)
	for i := range draws {
		p := (float64(i) + 0.5) / many
		draws[i] = n.Mean + n.SD*unit.Days(math.Sqrt2*math.Erfinv(2*p-1))
	}
	return FromDraws(draws)
}

// TestDrawsScoreLikeTheLaw: the same reference values, by draws of the normal: its CRPS within 0.1 % and 1e-3 SD, its PIT
// within 1/2000, and the CRPS within 1e-4 SD of twice the pinball loss averaged over all quantiles.
func TestDrawsScoreLikeTheLaw(t *testing.T) {
	for _, r := range reftest.Rows(t, "crps_normal") {
		n := Normal{unit.Days(r.Num(t, "mu")), unit.Days(r.Num(t, "sigma"))}
		y, d := unit.Days(r.Num(t, "y")), normalDraws(n)
		got := float64(d.CRPS(y, 1e9))
		reftest.Within(t, "CRPS of draws", got, r.Num(t, "crps"), 1e-3*(r.Num(t, "crps")+float64(n.SD)))
		reftest.Within(t, "PIT of draws", d.PIT(y), r.Num(t, "pit"), 5e-4)
		sum, many := 0.0, 4000
		for i := range many {
			p := (float64(i) + 0.5) / float64(many)
			sum += float64(Pinball(p, d.Quantile(p), y))
		}
		reftest.Within(t, "twice the mean pinball loss", 2*sum/float64(many), got, 1e-4*(got+float64(n.SD)))
	}
}

// TestIntervalAndPinball: made-up intervals; values computed from the definitions.
func TestIntervalAndPinball(t *testing.T) {
	for _, r := range reftest.Rows(t, "interval_and_pinball_scores") {
		lo, hi, y := unit.Days(r.Num(t, "lower")), unit.Days(r.Num(t, "upper")), unit.Days(r.Num(t, "y"))
		coverage := r.Num(t, "nominal_coverage")
		alpha := 1 - coverage
		low, high := float64(Pinball(alpha/2, lo, y)), float64(Pinball(1-alpha/2, hi, y))
		reftest.Near(t, "interval score", float64(IntervalScore(lo, hi, coverage, y)), r.Num(t, "interval_score"), 2e-9)
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

// TestBeyondTheHorizon: draws that never come cost as much as the latest time that counts, and no more.
func TestBeyondTheHorizon(t *testing.T) {
	never := unit.Days(math.Inf(1))
	d := FromDraws([]unit.Days{10, never, never, never})
	if got := d.CRPS(10, 110); got != unit.Days(100*0.75*0.75) { // F = 1/4 from 10 to 110, where 1 would be right
		t.Errorf("CRPS %v, want 56.25", got)
	}
	if got := d.CRPS(never, 110); got != unit.Days(100*0.25*0.25) {
		t.Errorf("CRPS %v, want 6.25", got)
	}
	if q := d.Quantiles(110); q[0] != 10 || q[6] != 110 {
		t.Errorf("quantiles %v", q)
	}
	var unknown Distribution
	if !math.IsNaN(float64(unknown.CRPS(1, 10))) || !math.IsNaN(unknown.PIT(1)) {
		t.Error("an unknown time has a score")
	}
	if got := FromDraws([]unit.Days{1, 2, 2, 3}).PIT(2); got != 0.5 {
		t.Errorf("PIT with ties %v, want 0.5", got)
	}
}

// TestProper: nobody scores better on average with another law than the true one (20000 values, seed stated).
func TestProper(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 14))
	truth := Normal{100, 10}
	others := []Normal{{104, 10}, {96, 10}, {100, 14}, {100, 7}}
	mean := func(score func(Normal, unit.Days) float64, n Normal, ys []unit.Days) (sum float64) {
		for _, y := range ys {
			sum += score(n, y) / float64(len(ys))
		}
		return sum
	}
	ys := make([]unit.Days, 20000)
	for i := range ys {
		ys[i] = truth.Mean + truth.SD*unit.Days(r.NormFloat64())
	}
	z := [7]float64{-1.644853627, -1.281551566, -0.674489750, 0, 0.674489750, 1.281551566, 1.644853627}
	for name, score := range map[string]func(Normal, unit.Days) float64{
		"CRPS": func(n Normal, y unit.Days) float64 { return float64(n.CRPS(y)) },
		"log":  func(n Normal, y unit.Days) float64 { return n.LogScore(y) },
		"interval": func(n Normal, y unit.Days) float64 {
			return float64(IntervalScore(n.Mean-unit.Days(z[5])*n.SD, n.Mean+unit.Days(z[5])*n.SD, 0.8, y))
		},
		"quantiles": func(n Normal, y unit.Days) float64 {
			var q [7]unit.Days
			for i := range q {
				q[i] = n.Mean + unit.Days(z[i])*n.SD
			}
			return float64(QuantileLoss(q, y))
		},
	} {
		best := mean(score, truth, ys)
		for _, o := range others {
			if s := mean(score, o, ys); s <= best {
				t.Errorf("%s: %v scores %.4f, the truth %.4f", name, o, s, best)
			}
		}
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
		if s := dist.CRPS(y, 1500); s < -1e-9 || math.IsNaN(float64(s)) || s > 1500 {
			t.Errorf("CRPS %v", s)
		}
		if s := QuantileLoss(dist.Quantiles(1500), min(y, 1500)); s < 0 || s > 1500 {
			t.Errorf("quantile loss %v", s)
		}
		if p := dist.PIT(y); p < 0 || p > 1 {
			t.Errorf("PIT %v", p)
		}
	})
}
