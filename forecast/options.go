package forecast

import (
	"time"

	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
)

// Defaults of Options.
const (
	defaultMinPressure unit.Pascals = 5 * unit.PascalsPerBar
	defaultRoom        unit.Celsius = 20
)

// withDefaults fills in what was left zero.
func (o Options) withDefaults() Options {
	if o.Capacity == 0 {
		o.Capacity = co2.Capacity(o.NetFill)
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
// boils off (dry), at room temperature.
func (o Options) marks() (heel, dry unit.Grams) {
	return co2.Heel(o.MinPressure, o.Room, o.Capacity), co2.LiquidDry(o.Room, o.Capacity)
}
