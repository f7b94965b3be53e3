package kalman

import (
	"math"
	"testing"
)

// sevenYears is an invented cylinder scale: a reading every ten minutes for seven years, 368,000 of them, in the order of
// what a household draws. Any other series of this length takes the same time. The generator is the one of
// testdata/compare.py, which times a general statistics library on the same model and readings.
func sevenYears() (ts, ys []float64) {
	const n = 368000
	ts, ys = make([]float64, n), make([]float64, n)
	for i := range ts {
		d := float64(i) / 144
		ts[i] = d
		ys[i] = 60000 - 9*d + 40*math.Sin(d/30) + 20*math.Sin(12.9898*float64(i))
	}
	return ts, ys
}

var benchModel = Model{Noise: 400, Level: 40, Rate: 0.02}

// BenchmarkLogLikelihood is one pass of the filter with its log-likelihood; ns/reading is what to compare.
func BenchmarkLogLikelihood(b *testing.B) {
	ts, ys := sevenYears()
	start := State{Level: ys[0], VarL: 1e6, VarR: 1e4}
	b.ReportAllocs()
	for b.Loop() {
		_, ll := benchModel.Filter(start, ts, ys)
		if math.IsNaN(ll) {
			b.Fatal(ll)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(ts)), "ns/reading")
}

func BenchmarkSmooth(b *testing.B) {
	ts, ys := sevenYears()
	out := make([]State, len(ts))
	start := State{Level: ys[0], VarL: 1e6, VarR: 1e4}
	b.ReportAllocs()
	for b.Loop() {
		benchModel.Smooth(start, ts, ys, out)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(ts)), "ns/reading")
}

// TestAllocatesNothing: years of readings take no memory beyond the caller's.
func TestAllocatesNothing(t *testing.T) {
	ts, ys := sevenYears()
	ts, ys = ts[:1000], ys[:1000]
	out := make([]State, len(ts))
	start := State{Level: ys[0], VarL: 1e6, VarR: 1e4}
	if n := testing.AllocsPerRun(5, func() { benchModel.Filter(start, ts, ys); benchModel.Smooth(start, ts, ys, out) }); n != 0 {
		t.Errorf("%g allocations, want none", n)
	}
}
