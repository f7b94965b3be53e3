package chart

import (
	"math"
	"time"
)

// Quantiles are the 10, 25, 50, 75 and 90 % quantiles of something, rising; see p10 and so on.
type Quantiles [5]float64

// The places in Quantiles.
const (
	p10 = iota
	p25
	p50
	p75
	p90
)

// Band is what the cylinder may hold at a time.
type Band struct {
	At  time.Time
	Net Quantiles // g
}

// steps is in how many pieces a fan is drawn.
const steps = 60

// Fan makes the bands between what the cylinder holds at now (net, g) and the run-out (days from now; +Inf: not
// foreseeable), where nothing is left. Each quantile runs straight from one to the other: the path that is low now
// and drinks fast is the early one. It ends when the last path has run out, at the latest after horizon.
func Fan(now time.Time, net, days Quantiles, horizon time.Duration) []Band {
	end := math.Min(days[p90], horizon.Hours()/24)
	if !(end > 0) {
		return nil
	}
	fan := make([]Band, steps+1)
	for i := range fan {
		t := end * float64(i) / steps
		fan[i].At = now.Add(time.Duration(t * 24 * float64(time.Hour)))
		for q := range net {
			fan[i].Net[q] = path(net[q], days[q], t)
		}
	}
	return fan
}

// path is what is left at t days on the straight way from net to nothing in days.
func path(net, days, t float64) float64 {
	switch {
	case net <= 0 || !(days > 0) || t >= days:
		return math.Min(net, 0)
	case math.IsInf(days, 1):
		return net
	}
	return net - net*t/days
}
