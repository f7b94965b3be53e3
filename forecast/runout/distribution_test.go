package runout

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/unit"
)

// TestFromWeightedTiltsALogNormal checks an exact solution: a log-normal (μ, σ²) weighted by its own power a is the log-normal (μ+a·σ², σ²).
func TestFromWeightedTiltsALogNormal(t *testing.T) {
	const many, mu, sigma, a = 20000, 4.5, 0.6, -0.5
	law := distuv.LogNormal{Mu: mu, Sigma: sigma}
	tilted := distuv.LogNormal{Mu: mu + a*sigma*sigma, Sigma: sigma}
	draws, weight := make([]unit.Days, many), make([]float64, many)
	for i := range draws {
		k := (i*7919 + 11) % many // in no order
		x := law.Quantile((float64(k) + 0.5) / many)
		draws[i], weight[i] = unit.Days(x), math.Pow(x, a)
	}
	d := FromWeighted(draws, weight)
	for _, p := range []float64{0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95} {
		if got, want := float64(d.Quantile(p)), tilted.Quantile(p); math.Abs(got/want-1) > 0.002 {
			t.Errorf("p = %v: %.3f days, want %.3f", p, got, want)
		}
	}
}

func TestFromWeightedKeepsWhatIsBeyondTheHorizon(t *testing.T) {
	d := FromWeighted([]unit.Days{unit.Days(math.Inf(1)), 3, 5}, []float64{2, 1, 1})
	if got := d.CDF(5); math.Abs(float64(got)-1.0/3) > 0.34 || !math.IsInf(float64(d.Quantile(0.9)), 1) {
		t.Errorf("half of the weight is beyond the horizon: P(5 days) = %v, p90 = %v", got, d.Quantile(0.9))
	}
	if FromWeighted(nil, nil).Known() {
		t.Error("no draws, yet known")
	}
}
