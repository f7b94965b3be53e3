package simulated

import (
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// TypedTimes are the times from from to to at which somebody without a scale on line weighs and types: gaps
// of Gamma(2) days with the mean given, rounded up to whole days, in the evening (19 ± 2.5 h, between 6 and 23).
func (h *House) TypedTimes(from, to time.Time, meanDays float64) []time.Time {
	r := stream(h.opt.Seed, typedStream)
	gap := distuv.Gamma{Alpha: 2, Beta: 2 / meanDays, Src: r}
	var times []time.Time
	for day := midnight(from, 0); day.Before(to); day = midnight(day, 1+int(gap.Rand())) {
		at := day.Add(hours(min(max(19+2.5*r.NormFloat64(), 6), 23))).Truncate(time.Minute)
		if !at.Before(from) && at.Before(to) {
			times = append(times, at)
		}
	}
	return times
}
