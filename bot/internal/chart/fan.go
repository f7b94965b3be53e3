package chart

import (
	"math"
	"time"
)

// Quantiles are five values, those of Band, rising.
type Quantiles struct{ P10, P25, P50, P75, P90 float64 }

// steps is in how many pieces a fan is drawn.
const steps = 60

// Fan makes the bands between what the cylinder holds at now (net, g) and the run-out (days from now; +Inf: not
// foreseeable), where heel is left. Each quantile runs straight from one to the other: the path that is low now
// and drinks fast is the early one. It ends when the last path has run out, at the latest after horizon.
func Fan(now time.Time, net, days Quantiles, heel float64, horizon time.Duration) []Band {
	end := math.Min(days.P90, horizon.Hours()/24)
	if !(end > 0) {
		return nil
	}
	fan := make([]Band, 0, steps+1)
	for i := range steps + 1 {
		t := end * float64(i) / steps
		fan = append(fan, Band{
			At:  now.Add(time.Duration(t * 24 * float64(time.Hour))),
			P10: path(net.P10, days.P10, heel, t),
			P25: path(net.P25, days.P25, heel, t),
			P50: path(net.P50, days.P50, heel, t),
			P75: path(net.P75, days.P75, heel, t),
			P90: path(net.P90, days.P90, heel, t),
		})
	}
	return fan
}

// path is the straight way from net to heel in days, at t days.
func path(net, days, heel, t float64) float64 {
	switch {
	case net <= heel || !(days > 0) || t >= days:
		return math.Min(net, heel)
	case math.IsInf(days, 1):
		return net
	}
	return net + (heel-net)*t/days
}
