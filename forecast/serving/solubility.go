// Package serving works out how much CO2 a serving takes, from weighing the bottle and the cylinder, and
// what part of it goes into the air instead of the drink; and how much CO2 water can hold at all.
package serving

import (
	"fmt"
	"math"

	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
)

// Volumes is carbonation as it is commonly told: litres of CO2 gas at 0 °C and 1 atm per litre of drink.
type Volumes float64

// PerVolume is the CO2 of one volume, 1.977 g/L: the density of the real gas at 0 °C and 1 atm (Span & Wagner
// 1996). The ideal gas would give 1.96.
const PerVolume unit.GramsPerLitre = 1.976812

// InVolumes is c in volumes.
func InVolumes(c unit.GramsPerLitre) Volumes { return Volumes(c / PerVolume) }

const (
	molarMass = 44.0095 // g/mol
	// molarVolume of dissolved CO2, m³/mol: 32.3 cm³/mol, Weiss (1974).
	molarVolume = 32.3e-6
)

// henry is the solubility of CO2 in pure water at t, mol/(L·atm) of fugacity:
//
//	ln K0 = A1 + A2·(100/T) + A3·ln(T/100)
//
// R. F. Weiss, "Carbon dioxide in water and seawater: the solubility of a non-ideal gas", Marine Chemistry 2
// (1974) 203-215, Table 1, salinity 0.
func henry(t unit.Celsius) float64 {
	h := t.Kelvin() / 100
	return math.Exp(-58.0931 + 90.5069/h + 22.2940*math.Log(h))
}

// Soluble is how much CO2 pure water at t holds in equilibrium with CO2 gas of pressure p:
//
//	c = M·K0(t)·f(p, t)·exp(v̄·(1 atm - p)/(M·R·T))
//
// with f the fugacity of the gas in atm, R its specific gas constant and v̄ the molar volume of dissolved CO2 (Weiss 1974, Eq. 4 and 5). p is
// the absolute partial pressure of CO2, above 0 and below the vapour pressure: the regulator's gauge reading plus
// one atmosphere, if all air has been let out of the bottle. t lies from -1 to 40 °C, the range of Weiss's data;
// anything else is an error. Sugar and alcohol hold less, by some per cent.
func Soluble(p unit.Pascals, t unit.Celsius) (unit.GramsPerLitre, error) {
	if !(t >= -1 && t <= 40) {
		return 0, fmt.Errorf("solubility of CO2 in water at %g °C: known from -1 to 40 °C", float64(t))
	}
	f, err := co2.Fugacity(p, t)
	if err != nil {
		return 0, fmt.Errorf("solubility of CO2 in water: %w", err)
	}
	poynting := math.Exp(molarVolume * float64(co2.Atmosphere-p) / (molarMass / 1000 * co2.GasConstant * t.Kelvin()))
	return unit.GramsPerLitre(molarMass * henry(t) * float64(f/co2.Atmosphere) * poynting), nil
}
