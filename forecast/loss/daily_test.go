package loss

import (
	"math"
	"testing"

	"tarebell/forecast/unit/reftest"
)

// TestTail compares what is assumed of how often people draw far more than they used to with real homes (reftest.Calendar): the mean of 3 to 30 days over the
// mean that daily follows until then.
func TestTail(t *testing.T) {
	const from, to = 1.5, 5.0
	at := func(r float64) float64 { return tailShare * math.Pow(r/tailFrom, -tailPower) }
	for _, r := range []float64{from, 2, 3, 4, to} {
		beyond, all := 0.0, 0.0
		for _, home := range reftest.Days(t) {
			for _, n := range []int{3, 5, 7, 10, 14, 21, 30} {
				var d daily
				for i, x := range home {
					if i >= 30 && i+n <= len(home) {
						sum := 0.0
						for _, y := range home[i : i+n] {
							sum += y
						}
						all++
						if sum/float64(n) >= r*math.Max(d.mean, 0.05) { // hardly anything: they are away
							beyond++
						}
					}
					d.learn(x)
				}
			}
		}
		t.Logf("%.1f times as much: %.4f of the homes' spans, %.4f assumed", r, beyond/all, at(r))
		if q := at(r) / (beyond / all); q < 0.6 || q > 1.7 {
			t.Errorf("%.1f times as much: %.4f is assumed, the homes have %.4f", r, at(r), beyond/all)
		}
	}
}
