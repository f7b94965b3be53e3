package simulated

import (
	"time"

	"tarebell/forecast/unit"
)

// Happening is a sort of incident.
type Happening string

// The happenings, with the fields of Incident they use. Without For, those that end do so when somebody acts.
const (
	LeakBegins    Happening = "leak-begins"     // Rate; until Repair
	ValveLeftOpen Happening = "valve-left-open" // Rate, For; until CloseValve
	Party         Happening = "party"           // Servings, spread over For
	ScaleSilent   Happening = "scale-silent"    // For: the scale does not answer
	ObjectOn      Happening = "object-on"       // Mass, For: something else stands on the platform
	Lifted        Happening = "lifted"          // For: the cylinder is off the platform
)

// Incident is something that happens to the house.
type Incident struct {
	At       time.Time
	What     Happening
	Rate     unit.GramsPerHour
	For      time.Duration
	Mass     unit.Grams
	Servings int
}

// while is the stretch an incident lasts: for good if For is 0.
func (i Incident) while() span {
	if i.For == 0 {
		return span{i.At, i.At.AddDate(1000, 0, 0)}
	}
	return span{i.At, i.At.Add(i.For)}
}

// happen lets an incident begin.
func (h *House) happen(i Incident) {
	switch i.What {
	case LeakBegins, ValveLeftOpen:
		l := &Loss{What: i.What, From: i.At, Rate: i.Rate}
		h.losses = append(h.losses, l)
		if i.For > 0 {
			h.plan(i.At.Add(i.For), func() { h.stop(func(x *Loss) bool { return x == l }) })
		}
	case Party:
		for _, s := range h.demand.party(i) {
			h.plan(s.at, func() { h.serve(s) })
		}
	default:
		h.scale.happen(i)
		if i.What == Lifted {
			h.scale.load(i.At, float64(h.grossTrue()))
		}
	}
}
