package loss

import "math"

// When nobody draws, unless the household's quiet hours are shorter. Common practice, no source.
const (
	nightFrom    = 23.0
	nightTo      = 6.0
	leastOfNight = 4.0 // h; of a shorter night nothing can be learned
)

// window is a part of each day, in hours of the household's clock; it may reach over midnight.
type window struct{ from, to float64 }

// covers reports that hour lies in s.
func (s window) covers(hour float64) bool { return mod24(hour-s.from) < mod24(s.to-s.from) }

// nightWithin is the night as far as it lies within the household's quiet hours: who is up late may draw late, but
// nobody draws because messages are allowed. Quiet hours that leave no night say nothing about it.
func nightWithin(quietFrom, quietTo float64) window {
	usual := window{nightFrom, nightTo}
	if quietFrom == quietTo {
		return usual
	}
	length := mod24(nightTo - nightFrom)
	from, to := mod24(quietFrom-nightFrom), mod24(quietTo-nightFrom)
	if from > 12 { // before the night
		from = 0
	}
	to = math.Min(to, length)
	if to-from < leastOfNight {
		return usual
	}
	return window{mod24(nightFrom + from), mod24(nightFrom + to)}
}

func mod24(h float64) float64 { return math.Mod(math.Mod(h, 24)+24, 24) }

// decay is the share left after h hours with the given time constant in hours.
func decay(h, constant float64) float64 { return math.Exp(-h / constant) }

// warmth is how warm the load cell usually is at each hour of the day, °C.
type warmth struct {
	mean [24]float64
	n    [24]float64
}

// warmthMemory is how many readings of an hour the usual warmth follows: a month of half-hourly ones.
const warmthMemory = 60

// anomaly is what a day warmer than usual at this hour has added to the reading, g. What every day does alike stays in: it is
// learned as the household's usual night, and hour by hour.
func (t *warmth) anomaly(r Reading) float64 {
	if r.Coef == 0 {
		return 0
	}
	h := int(mod24(r.Hour))
	t.n[h] = math.Min(t.n[h]+1, warmthMemory)
	t.mean[h] += (r.Cell - t.mean[h]) / t.n[h]
	return r.Coef * (r.Cell - t.mean[h])
}
