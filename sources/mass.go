package sources

import (
	"math"
	"strings"

	"tarebell/forecast/unit"
)

// MassUnits names the units in which scales and files give a mass, for messages.
const MassUnits = "g, kg, lb or oz"

// MassUnit is the mass that a unit's name stands for; upper and lower case are the same.
func MassUnit(name string) (unit.Grams, bool) {
	switch strings.ToLower(name) {
	case "g":
		return 1, true
	case "kg":
		return unit.GramsPerKilogram, true
	case "lb", "lbs":
		return unit.GramsPerPound, true
	case "oz":
		return unit.GramsPerOunce, true
	}
	return 0, false
}

// Mass is x times a unit's size to the nearest microgram, so that 1.001 kg is 1001 g whoever reads it: in
// floating point 1.001 times 1000 is not.
func Mass(x float64, size unit.Grams) unit.Grams {
	return unit.Grams(math.Round(x*float64(size)*1e6) / 1e6)
}
