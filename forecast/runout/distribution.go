// Package runout forecasts when the gas is gone: the distribution of the first passage of an uncertain
// amount of gas, under an uncertain future use, through a level. It also scores such forecasts.
package runout

import (
	"math"
	"slices"

	"tarebell/forecast/unit"
)

// Distribution is the distribution of a waiting time, held as equally likely draws in rising order.
// A draw of +Inf says "not within the horizon". The zero value is an unknown time.
type Distribution struct{ draws []unit.Days }

// FromDraws makes a Distribution of equally likely draws. It sorts draws in place and keeps them.
func FromDraws(draws []unit.Days) Distribution {
	slices.Sort(draws)
	return Distribution{draws}
}

// Times is the distribution of by times the waiting time, by > 0; what is later than least is brought no nearer than that.
func (d Distribution) Times(by float64, least unit.Days) Distribution {
	out := make([]unit.Days, len(d.draws))
	for i, t := range d.draws {
		out[i] = max(unit.Days(by)*t, min(t, least))
	}
	return Distribution{out}
}

// Known reports whether there is anything to say.
func (d Distribution) Known() bool { return len(d.draws) > 0 }

// Quantile is the waiting time that p of the draws do not exceed, linear between order statistics
// (Hyndman & Fan 1996, type 5: plotting position (k-0.5)/n). It is +Inf beyond the horizon and NaN for an
// unknown time. It panics if p is outside [0, 1].
func (d Distribution) Quantile(p float64) unit.Days {
	if !(p >= 0 && p <= 1) {
		panic("runout: quantile outside [0, 1]")
	}
	n := len(d.draws)
	if n == 0 {
		return unit.Days(math.NaN())
	}
	h := p*float64(n) - 0.5
	switch k := int(math.Floor(h)); {
	case h <= 0:
		return d.draws[0]
	case k >= n-1:
		return d.draws[n-1]
	case math.IsInf(float64(d.draws[k+1]), 1):
		return d.draws[k+1]
	default:
		return d.draws[k] + unit.Days(h-float64(k))*(d.draws[k+1]-d.draws[k])
	}
}

// CDF is the probability that the wait is over within t: the share of draws not above it. It is NaN for an
// unknown time.
func (d Distribution) CDF(t unit.Days) float64 {
	if len(d.draws) == 0 {
		return math.NaN()
	}
	i, _ := slices.BinarySearchFunc(d.draws, t, func(x, t unit.Days) int {
		if x <= t {
			return -1
		}
		return 1
	})
	return float64(i) / float64(len(d.draws))
}
