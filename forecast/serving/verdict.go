package serving

import (
	"math"

	"tarebell/forecast/unit"
)

// Verdict is a serving held against what water can hold.
type Verdict struct {
	Volumes Volumes
	// CanHold is what water holds in the end at that temperature and pressure, and Share how much of it the
	// serving is.
	CanHold unit.GramsPerLitre
	Share   float64
	// Vented is what is taken beyond CanHold and can only go into the air; 0 when within it.
	Vented unit.GramsPerLitre
}

// Judge holds c, the CO2 taken per litre of drink, against Soluble at absolute CO2 pressure p and temperature t, with its
// errors. A short burst never gets to equilibrium: a share well below 1 is ordinary, one above 1 is venting.
func Judge(c unit.GramsPerLitre, p unit.Pascals, t unit.Celsius) (Verdict, error) {
	can, err := Soluble(p, t)
	if err != nil {
		return Verdict{}, err
	}
	return Verdict{InVolumes(c), can, float64(c / can), max(0, c-can)}, nil
}

// Serving is one serving as the household plans with it.
type Serving struct {
	Litres unit.Litres
	CO2    unit.Grams
}

// Servings is how many servings usable gas is good for; 0 when the serving takes no known gas.
func (s Serving) Servings(usable unit.Grams) float64 {
	if !(s.CO2 > 0) || !(usable > 0) || math.IsInf(float64(usable), 0) {
		return 0
	}
	return float64(usable / s.CO2)
}

// PerLitre is the gas per litre of drink; 0 when the litres are not known.
func (s Serving) PerLitre() unit.GramsPerLitre {
	if !(s.Litres > 0) {
		return 0
	}
	return unit.GramsPerLitre(float64(s.CO2) / float64(s.Litres))
}
