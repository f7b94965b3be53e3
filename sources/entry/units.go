package entry

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
