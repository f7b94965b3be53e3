package estimate

import (
	"math"
)

// reports is what people and other judges said about spans of time.
type reports struct {
	loss [8]outflow
	nl   int
	gone [8]absence
	ng   int
}

// outflow is gas lost at a steady rate (g/s) between two times; sd is that of the whole.
type outflow struct {
	from, to, rate, sd float64
	open               bool // a belief about the present rather than an account of the past
}

type absence struct{ at, until float64 }

// lost is the gas (g) that went between two times and was not use, and its variance.
func (rep *reports) lost(from, to float64) (g, variance float64) {
	for i := range rep.loss[:rep.nl] {
		l := &rep.loss[i]
		a, b := math.Max(from, l.from), math.Min(to, l.to)
		if b <= a {
			continue
		}
		share := b - a
		if l.open {
			share -= rep.accounted(a, b)
		}
		g += l.rate * share
		whole := l.to - l.from
		if l.open {
			whole = secondsDay
		}
		variance += l.sd * l.sd * share / whole
	}
	return g, variance
}

// accounted is the time between a and b for which a closed account of a loss exists.
func (rep *reports) accounted(a, b float64) (s float64) {
	for i := range rep.loss[:rep.nl] {
		if l := &rep.loss[i]; !l.open {
			s += math.Max(math.Min(b, l.to)-math.Max(a, l.from), 0)
		}
	}
	return math.Min(s, b-a)
}

// absent is when the absence that covers t ends; 0: none.
func (rep *reports) absent(t float64) float64 {
	for i := range rep.gone[:rep.ng] {
		if a := rep.gone[i]; a.at <= t && t < a.until {
			return a.until
		}
	}
	return 0
}
