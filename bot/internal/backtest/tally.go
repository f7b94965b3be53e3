package backtest

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Tally sums up forecasts.
type Tally struct {
	N, In80, In90 int
	Loss          float64 // mean quantile loss relative to the time left
	Compared      int     // forecasts to which the maker's arithmetic had an answer as well
	OverMaker     float64 // Loss over that of the maker's arithmetic, on those; NaN: nothing to compare
	Miss          float64 // median error of the middle date, days
	MissPart      float64 // the same, relative to the time left
	MakerMiss     float64 // median error of the maker's arithmetic, days; NaN: none
	Width         float64 // median width of the span given as four out of five, days
}

// Sum tallies forecasts.
func Sum(fs []Forecast) (t Tally) {
	var miss, part, maker, width []float64
	ours, theirs := 0.0, 0.0
	for _, f := range fs {
		t.N++
		if f.In80() {
			t.In80++
		}
		if f.In90() {
			t.In90++
		}
		t.Loss += f.Loss() / float64(len(fs))
		off := math.Abs(float64(f.Middle() - f.Left))
		miss, part, width = append(miss, off), append(part, off/float64(f.Left)), append(width, float64(f.Said[5]-f.Said[1]))
		if !math.IsNaN(float64(f.Maker)) {
			t.Compared++
			ours, theirs = ours+f.Loss(), theirs+f.MakerLoss()
			maker = append(maker, math.Abs(float64(f.Maker-f.Left)))
		}
	}
	t.Miss, t.MissPart, t.MakerMiss, t.Width = median(miss), median(part), median(maker), median(width)
	t.OverMaker = ours / theirs // 0/0 where there is nothing to compare
	return t
}

// All are the forecasts of every fill.
func (r Result) All() (fs []Forecast) {
	for _, f := range r.Fills {
		fs = append(fs, f.Forecasts...)
	}
	return fs
}

// Stage are the forecasts made with that part of the way still to go.
func (r Result) Stage(stage float64) (fs []Forecast) {
	for _, f := range r.All() {
		if f.Stage == stage {
			fs = append(fs, f)
		}
	}
	return fs
}

// Honest is how many of n forecasts fall into a span of probability p in 19 of 20 histories, if the span is what it says
// and the forecasts miss independently: the central 95 % of the binomial distribution. Those of one fill do not, so a
// history of few fills strays further.
func Honest(n int, p float64) (lo, hi int) {
	b := distuv.Binomial{N: float64(n), P: p}
	for lo < n && b.CDF(float64(lo)) < 0.025 {
		lo++
	}
	for hi = lo; hi < n && b.CDF(float64(hi)) < 0.975; {
		hi++
	}
	return lo, hi
}

// median of xs, NaN of none.
func median(xs []float64) float64 {
	if len(xs) == 0 {
		return math.NaN()
	}
	xs = slices.Sorted(slices.Values(xs))
	return (xs[(len(xs)-1)/2] + xs[len(xs)/2]) / 2
}
