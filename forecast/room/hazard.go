package room

import (
	"math"

	"tarebell/forecast/unit"
)

// Unknown is the room that stands for one that nobody described: a small kitchen of 8 m² and 2.5 m, closed, with the 0.35 air changes an
// hour that ASHRAE 62-1989 asked of dwellings (from memory). A larger or airier one is less dangerous than this.
func Unknown() Room {
	r, _ := New(20_000, 0.35)
	return r
}

// Loss is gas leaving a cylinder: so much since a time ago, now at a rate, with so much left.
type Loss struct {
	Gone unit.Grams
	Over unit.Days // since it began
	Rate unit.GramsPerHour
	Left unit.Grams
}

// Worst is the highest concentration that a loss has brought the room to or will, if nobody stops it and nobody airs: what
// went, let in evenly since it began, and then the rate until the cylinder is empty. What went in no time at all counts as let in at
// once.
func (r Room) Worst(l Loss) unit.PPM {
	now := r.Release(l.Gone) + r.Outdoor
	if l.Over > 0 {
		now = min(now, r.After(l.Over, unit.GramsPerHour(float64(max(l.Gone, 0))/l.Over.Hours()), r.Outdoor))
	}
	empty := unit.Days(math.Inf(1))
	if l.Rate > 0 {
		empty = unit.Days(float64(max(l.Left, 0)) / float64(l.Rate) / 24)
	}
	return max(now, r.After(empty, l.Rate, min(now, pure)))
}

// Release is what letting gas into the room all at once adds, in ppm: v/V with v the volume of the gas and V that of the room. The gas pushes
// only room air out, none of itself. It is the highest of the conventions for where the air goes, held to 10⁶. Near the floor there may be more.
func (r Room) Release(gas unit.Grams) unit.PPM {
	return min(pure, pure*unit.PPM(r.gas(max(gas, 0))/r.Volume))
}
