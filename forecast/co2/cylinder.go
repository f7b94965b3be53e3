package co2

import (
	"fmt"
	"math"

	"tarebell/forecast/unit"
)

// FillingDensity is the mass of CO2 a cylinder may hold over the mass of water that fills it: 68 %, the
// limit of 49 CFR 173.304a(a)(2) for cylinders of 1800 psi service pressure. Stronger ones may hold up to 74.5 %
// (later editions of the same table); then the capacity must be given rather than derived.
const FillingDensity = 0.68

// waterAt60F is the density of water at 60 °F, the reference of the filling density (note 1 to the same table).
const waterAt60F unit.GramsPerLitre = 999.02

// reference is the temperature taken when none is known.
const reference unit.Celsius = 20

// Capacity is the water capacity of a cylinder sold with netFill of CO2, when nothing better is known:
//
//	V = m / (0.68 · 999.02 g/L)
//
// A stamped capacity is better: fills below the limit are usual in the heat and in small cylinders.
func Capacity(netFill unit.Grams) unit.Litres {
	return unit.Litres(float64(netFill) / (FillingDensity * float64(waterAt60F)))
}

// Heel is the net gas left in a cylinder of the given capacity and temperature when its pressure has
// fallen to pressure, below which it no longer carbonates:
//
//	heel = ρ(pressure, t)·V
//
// It always has a value: t is held to the range of Saturation's lower end and of State's upper end (not a
// number: 20 °C), and a pressure above the vapour pressure counts as the vapour pressure. A pressure of 0
// or less leaves nothing behind.
func Heel(pressure unit.Pascals, t unit.Celsius, capacity unit.Litres) unit.Grams {
	if !(pressure > 0) {
		return 0
	}
	s := newIsotherm(held(t, maxKelvin-273.15).Kelvin())
	top, ceiling := s.gasSide()
	if pressure >= ceiling {
		return top.In(capacity)
	}
	return unit.GramsPerLitre(s.density(float64(pressure), float64(top))).In(capacity)
}

// LiquidDry is the net gas left when the last liquid boils off: ρ"(t)·V. Above it the pressure is the vapour
// pressure whatever is left; below it pressure falls with what is left.
//
// It always has a value: t is held from the triple to the critical point (not a number: 20 °C). Above the
// critical point there is no liquid and the value for the critical point, ρc·V, is given.
func LiquidDry(t unit.Celsius, capacity unit.Litres) unit.Grams {
	s := newIsotherm(held(t, CriticalTemperature).Kelvin())
	return s.saturation().Vapour.In(capacity)
}

// held is t within [triple point, top], and 20 °C when it is not a number.
func held(t, top unit.Celsius) unit.Celsius {
	if math.IsNaN(float64(t)) {
		return reference
	}
	return min(max(t, TripleTemperature), top)
}

// FillPressure is the pressure in a closed cylinder of the given capacity that holds net of CO2, all of it
// at t, and in which phase it is. It ignores that the cylinder widens under pressure and that a relief
// device opens, which is what keeps a hot cylinder from bursting, and lets all its gas go.
//
// A fill of 68 % becomes liquid-full at 26.8 °C; from there every degree adds about 3 bar, to 143 bar at 50 °C
// and 194 bar at 65 °C, where 20 °C gave 57. Errors as for State.
func FillPressure(net unit.Grams, capacity unit.Litres, t unit.Celsius) (unit.Pascals, Phase, error) {
	if !(capacity > 0) || !(net > 0) {
		return 0, 0, fmt.Errorf("pressure of a cylinder of %g L with %g g of CO2: both must be above 0", float64(capacity), float64(net))
	}
	return State(unit.GramsPerLitre(float64(net)/float64(capacity)), t)
}

// HeatCaution is what to tell whoever carries or stores a full cylinder. It has no figures; FillPressure has.
const HeatCaution = "Keep the cylinder below 50 °C (120 °F), out of the sun and away from heaters. " +
	"Never leave it in a parked car: once the liquid has swollen to fill the cylinder, pressure climbs by the degree, " +
	"and the relief device lets all the gas go at once into the car. " +
	"When driving, strap it, keep the valve capped and the windows open, and take it out at once. " +
	"Local rules and your supplier's advice come first."
