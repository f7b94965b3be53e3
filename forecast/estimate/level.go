package estimate

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Level is how much a household draws, as far as it is known at one moment.
type Level struct {
	mean, variance float64 // of ln(g/day)
	phi            float64 // g, variance over mean of the use
}

// Level is what is known of the use at now.
func (f *Filter) Level(now time.Time) Level {
	f.present(epoch(now))
	m, v, _ := f.work.mix.level()
	return Level{m, math.Min(v, maxLogVar), f.work.mix.lumpiness()}
}

// Over is the use to be expected in some days if they live as before.
func (l Level) Over(days unit.Days) Normal {
	v := l.variance + lawSD*lawSD
	use := math.Exp(math.Min(l.mean+l.variance/2, mostLevel)) * float64(days)
	return Normal{use, math.Sqrt(use*use*math.Expm1(v) + l.phi*use)}
}

// Most is what they may draw in some days when they draw more than ever, or live otherwise from now on: z standard deviations above the middle.
func (l Level) Most(days unit.Days, z float64) unit.Grams {
	h := defaultHabits()
	sd := math.Sqrt(l.variance + lawSD*lawSD + h.stepVar)
	use := math.Exp(math.Min(l.mean+z*sd, mostLevel)) * float64(days)
	return unit.Grams(use + z*math.Sqrt(l.phi*use))
}

// HandSD is the standard deviation of one typed weight.
func (f *Filter) HandSD() unit.Grams {
	if !f.core.started {
		return unit.Grams(f.opt.typedSD())
	}
	return unit.Grams(math.Sqrt(f.core.typedNoise.variance))
}
