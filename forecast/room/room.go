// Package room works out what CO2 leaving a cylinder would do to the air of the room it stands in, by the
// well-mixed balance, and compares the result with published exposure limits.
//
// It judges by weight and by figures someone typed for the room. It cannot see the air: CO2 is heavier than
// air, gathers near the floor, in pits and cellars, and may be far above the average given here. A result
// below a limit never means that a room is safe. A CO2 alarm near the floor, local codes and licensed practice decide.
package room

import (
	"fmt"
	"math"

	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
)

// Fresh is the CO2 of outdoor air taken when nothing else is known, 420 ppm (about the value of 2023;
// common practice, no source).
const Fresh unit.PPM = 420

// pure is CO2 without any air.
const pure unit.PPM = 1e6

// Room is the air around a cylinder.
type Room struct {
	Volume     unit.Litres  // of the room's air, above 0
	AirChanges float64      // n, volumes of outdoor air per hour, 0 or more
	Temp       unit.Celsius // of the room, -40 to 60
	Outdoor    unit.PPM     // CO2 of the air that comes in
}

// New is a room at 20 °C with fresh air outside. It is an error when the volume is not above 0 or the air
// changes are below 0.
func New(volume unit.Litres, airChanges float64) (Room, error) {
	r := Room{volume, airChanges, 20, Fresh}
	return r, r.Check()
}

// Check says what is wrong with r. The methods of a Room expect one that passes.
func (r Room) Check() error {
	switch {
	case !(r.Volume > 0) || math.IsInf(float64(r.Volume), 0):
		return fmt.Errorf("room volume %g m³: must be above 0, such as 38 m³", r.Volume.CubicMetres())
	case !(r.AirChanges >= 0) || math.IsInf(r.AirChanges, 0):
		return fmt.Errorf("room air changes %g per hour: must be 0 or more, such as 0.5", r.AirChanges)
	case !(r.Temp >= -40 && r.Temp <= 60):
		return fmt.Errorf("room temperature %g °C: must be from -40 to 60", float64(r.Temp))
	case !(r.Outdoor >= 0 && r.Outdoor < pure):
		return fmt.Errorf("outdoor CO2 %g ppm: must be from 0 to below 1,000,000", float64(r.Outdoor))
	}
	return nil
}

// gas is the volume of m of CO2 at room temperature and one atmosphere.
func (r Room) gas(m unit.Grams) unit.Litres {
	rho, _ := co2.GasDensity(r.Temp) // no error for a Room that passed Check
	return unit.Litres(float64(m) / float64(rho))
}

// rise is q = 10⁶·Q/V, how fast the leak alone raises the room, in ppm per hour.
func (r Room) rise(leak unit.GramsPerHour) float64 {
	return float64(pure) * float64(r.gas(unit.Grams(max(leak, 0)))) / float64(r.Volume)
}

// Steady is the concentration that the room settles at under a constant leak:
//
//	Cs = Cout + q/n,  q = 10⁶·leak/(ρ·V)
//
// with ρ the density of CO2 gas at room temperature and 1 atm in g/L, V in L, n in 1/h, leak in g/h (below 0
// counts as 0). The balance leaves out that the gas displaces room air, and so errs high; it is held to
// 10⁶ ppm, which it also is without any air change. The room needs about 3/n hours to come within 5 % of it.
func (r Room) Steady(leak unit.GramsPerHour) unit.PPM {
	q := r.rise(leak)
	if q == 0 {
		return r.Outdoor
	}
	return min(pure, r.Outdoor+unit.PPM(q/r.AirChanges))
}

// After is the concentration d after a constant leak began at start ppm:
//
//	C(t) = Cs + (C0 - Cs)·exp(-n·t), or C0 + q·t without any air change,
//
// held to 10⁶ ppm. d below 0 counts as 0.
func (r Room) After(d unit.Days, leak unit.GramsPerHour, start unit.PPM) unit.PPM {
	t, q, n := max(0, d.Hours()), r.rise(leak), r.AirChanges
	if math.IsInf(t, 1) {
		if n == 0 && q == 0 {
			return start
		}
		return r.Steady(leak)
	}
	// (1 - exp(-n·t))/n, which tends to t as n tends to 0.
	mixing := t
	if n > 0 {
		mixing = -math.Expm1(-n*t) / n
	}
	c := float64(start) + (n*float64(r.Outdoor-start)+q)*mixing
	return unit.PPM(min(c, float64(pure)))
}
