package forecast

import (
	"time"

	"tarebell/forecast/unit"
)

// Defaults of Options.
const (
	defaultMinPressure unit.Pascals = 5 * unit.PascalsPerBar
	defaultRoom        unit.Celsius = 20

	// fillingDensity is the most CO2 a litre of cylinder may hold: 68 % of its water weight, 49 CFR 173.304a.
	fillingDensity unit.GramsPerLitre = 680
)

// withDefaults fills in what was left zero.
func (o Options) withDefaults() Options {
	if o.Capacity == 0 {
		o.Capacity = unit.Litres(float64(o.NetFill) / float64(fillingDensity))
	}
	if o.MinPressure == 0 {
		o.MinPressure = defaultMinPressure
	}
	if o.Room == 0 {
		o.Room = defaultRoom
	}
	if o.Location == nil {
		o.Location = time.UTC
	}
	return o
}

// marks are the net masses at which the gas cannot be used any more (heel) and at which the last liquid
// boils off (dry).
//
// TODO(co2): from the equation of state at o.MinPressure and o.Room; these are 5 bar and 20 °C.
func (o Options) marks() (heel, dry unit.Grams) {
	return unit.GramsPerLitre(9.2589).In(o.Capacity), unit.GramsPerLitre(194.17).In(o.Capacity)
}
