package entry

import (
	"math"

	"tarebell/forecast/unit"
)

// Unit is a unit as typed.
type Unit int

// The units a weight can be typed and told back in.
const (
	Kilograms Unit = iota
	Grams
	Pounds
	PoundsOunces
	ounces // inside this package; told back as PoundsOunces
	noUnit
)

// units are the letters of the lexicon.
var units = map[string]Unit{"kg": Kilograms, "g": Grams, "lb": Pounds, "oz": ounces}

// sizes are the units that stand alone, and the decimals to which a weight is kept in them.
var sizes = map[Unit]struct {
	name     string
	size     unit.Grams
	decimals int
}{Kilograms: {"kg", unit.GramsPerKilogram, 4}, Grams: {"g", 1, 1}, Pounds: {"lb", unit.GramsPerPound, 4}}

// grams is v of unit u, rounded to what String prints, pounds and ounces to a hundredth of an ounce. So what is printed reads back as the
// same mass.
func grams(v float64, u Unit) unit.Grams {
	if s, ok := sizes[u]; ok {
		per := math.Pow10(s.decimals)
		return unit.Grams(math.Round(v*per)/per) * s.size
	}
	if u == ounces {
		v /= 16
	}
	lb, oz := poundsOunces(v)
	return unit.Pounds(lb + oz/16)
}

// in is m in unit u with at most so many decimals.
func in(m unit.Grams, u Unit, decimals int) string {
	if s, ok := sizes[u]; ok {
		return unit.Number(float64(m/s.size), 0, min(decimals, s.decimals)) + " " + s.name
	}
	lb, oz := poundsOunces(m.Pounds())
	return unit.Number(lb, 0, 0) + " lb " + unit.Number(oz, 0, min(decimals, 2)) + " oz"
}

// poundsOunces splits pounds into whole pounds and ounces to the hundredth.
func poundsOunces(v float64) (lb, oz float64) {
	hundredths := math.Round(v * 1600)
	lb = math.Trunc(hundredths / 1600)
	return lb, (hundredths - 1600*lb) / 100
}
