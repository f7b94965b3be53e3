package room

import (
	"math"

	"tarebell/forecast/unit"
)

// Release is the concentration of added CO2 when a whole charge goes into the room at once, in ppm, by
// three conventions for where the air goes. With v the volume of the gas and V that of the room:
type Release struct {
	// Unmixed is v/V: the gas pushes only room air out, none of itself. It is the highest, held to 10⁶, and
	// the one to tell people. Near the floor there may be more.
	Unmixed unit.PPM
	// Mixed is 1 - exp(-v/V): the room is mixed all the time and the mixture leaves.
	Mixed unit.PPM
	// Closed is v/(V + v): nothing leaves and the pressure rises.
	Closed unit.PPM
}

// Release is what letting gas into the room all at once would do, leaving out what was in the air before.
func (r Room) Release(gas unit.Grams) Release {
	x := float64(r.gas(max(gas, 0))) / float64(r.Volume)
	return Release{
		Unmixed: unit.PPM(1e6 * min(x, 1)),
		Mixed:   unit.PPM(-1e6 * math.Expm1(-x)),
		Closed:  unit.PPM(1e6 * x / (1 + x)),
	}
}

// Exposure is what a loss means in a room.
type Exposure struct {
	In15Minutes, In1Hour unit.PPM
	// Highest is the concentration when the cylinder is empty, which comes near the steady state when it
	// lasts long.
	Highest unit.PPM
	Empty   unit.Days // until the cylinder is empty; +Inf without a leak
	// The times to the three thresholds people are told; +Inf when the cylinder is empty before.
	To5000, To30000, To40000 unit.Days
	All                      Release // the whole charge at once
}

// Exposure is what a constant leak means in r, from start ppm on and with gas left in the cylinder. After the
// cylinder is empty the room clears, so that times after that count as never and concentrations as at that moment.
func (r Room) Exposure(leak unit.GramsPerHour, start unit.PPM, gas unit.Grams) Exposure {
	empty := unit.Days(math.Inf(1))
	if leak > 0 {
		empty = unit.Days(float64(max(gas, 0)) / float64(leak) / 24)
	}
	at := func(d unit.Days) unit.PPM { return r.After(min(d, empty), leak, start) }
	to := func(l unit.PPM) unit.Days {
		if d := r.Until(l, leak, start); d <= empty {
			return d
		}
		return unit.Days(math.Inf(1))
	}
	return Exposure{
		In15Minutes: at(0.25 / 24), In1Hour: at(1. / 24), Highest: at(empty), Empty: empty,
		To5000: to(LongTerm), To30000: to(ShortTerm), To40000: to(Dangerous),
		All: r.Release(gas),
	}
}
