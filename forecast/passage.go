package forecast

import (
	"math"
	"time"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// Passage is the distribution of the time from now until the net gas has fallen to level: RunOut is the passage to the
// heel, and a level that was reached later tells how good the forecast was, though the cylinder never ran out. now must not
// lie before the last input. It is unknown before the first usable weighing.
func (c *Cylinder) Passage(now time.Time, level unit.Grams) runout.Distribution {
	if c.seen.IsZero() {
		return runout.Distribution{}
	}
	_, d := c.est.Forecast(now, level, level)
	return d
}

// Level is the net gas believed at now and when a usable weighing last told of it, without the expense of an Outlook. ok is
// false before the first.
func (c *Cylinder) Level(now time.Time) (gas Normal, seen time.Time, ok bool) {
	if c.seen.IsZero() {
		return Normal{}, time.Time{}, false
	}
	return Normal(c.est.State(now).Gas), c.seen, true
}

// NetSD is the standard deviation of the gas that one weight by itself shows, typed or from a scale: its scatter, and how well tare, fittings and the
// scale's error are known beforehand.
func (c *Cylinder) NetSD(typed bool) unit.Grams {
	scatter := c.filter.SD()
	if typed {
		scatter = c.est.HandSD()
	}
	return unit.Grams(math.Hypot(float64(scatter), float64(c.est.HouseSD())))
}

// Heel is the gas that cannot be used, at which the cylinder counts as run out.
func (c *Cylinder) Heel() unit.Grams { return c.heel }
