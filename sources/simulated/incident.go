package simulated

import (
	"slices"
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
	EveryoneAway  Happening = "everyone-away"   // For: nobody wants anything
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

func sorted(script []Incident) []Incident {
	s := slices.Clone(script)
	slices.SortStableFunc(s, func(a, b Incident) int { return a.At.Compare(b.At) })
	return s
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
		l := &loss{Loss: Loss{What: i.What, From: i.At, Rate: i.Rate}}
		if i.For > 0 {
			l.until = i.At.Add(i.For)
		}
		h.losses = append(h.losses, l)
		h.everLost = append(h.everLost, l)
	case Party:
		h.demand.party(i)
	case EveryoneAway:
		h.away = i.while()
	default:
		h.scale.happen(i)
		if i.What == Lifted {
			h.scale.load(i.At, float64(h.grossTrue()))
		}
	}
}
