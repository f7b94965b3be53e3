// Package unit names the quantities that all packages compute with, so that mixing them does not compile, and reads them as people
// write them, with their unit.
//
// Money is in whole cents, every other value is a float64 in one fixed unit. Conversions between quantities are methods.
package unit

import (
	"math"
	"time"
)

// Exact factors. International pound and ounce: 0.45359237 kg and 1/16 of it
// (international yard and pound agreement, 1959; NIST SP 811, appendix B.8).
const (
	GramsPerKilogram = 1000
	GramsPerPound    = 453.59237
	GramsPerOunce    = GramsPerPound / 16

	PascalsPerBar = 1e5
	// PascalsPerPSI is one pound-force per square inch: 0.45359237·9.80665/0.0254² Pa.
	PascalsPerPSI        = 6894.757293168361
	PascalsPerAtmosphere = 101325
	LitresPerCubicMetre  = 1000
	// LitresPerUSFluidOunce is 231 in³/128 = 29.5735295625 mL, exact.
	LitresPerUSFluidOunce = 0.0295735295625
	// LitresPerCubicFoot is (0.3048 m)³.
	LitresPerCubicFoot = 28.316846592

	zeroCelsiusInKelvin = 273.15
)

// Grams is a mass. Say gross, tare or net beside it, never just "weight".
type Grams float64

// Kilograms is m in kilograms.
func (m Grams) Kilograms() float64 { return float64(m) / GramsPerKilogram }

// Pounds is m in international pounds.
func (m Grams) Pounds() float64 { return float64(m) / GramsPerPound }

// Kilograms makes a mass from kilograms.
func Kilograms(kg float64) Grams { return Grams(kg * GramsPerKilogram) }

// Pounds makes a mass from international pounds.
func Pounds(lb float64) Grams { return Grams(lb * GramsPerPound) }

// GramsPerDay is a rate per 24 elapsed hours.
type GramsPerDay float64

// Over is the mass that r moves in d.
func (r GramsPerDay) Over(d Days) Grams { return Grams(float64(r) * float64(d)) }

// GramsPerHour is a rate per hour; losses are told in it.
type GramsPerHour float64

// Over is the mass that r moves in d.
func (r GramsPerHour) Over(d Days) Grams { return Grams(float64(r) * float64(d) * 24) }

// Days is a span of elapsed time in units of 24 hours; +Inf means never.
type Days float64

// Between is the span from a to b.
func Between(a, b time.Time) Days { return Days(b.Sub(a).Seconds() / 86400) }

// maxDays keeps a Days inside what time.Duration can hold (about 292 years).
const maxDays = math.MaxInt64 / float64(24*time.Hour)

// After is t plus d. ok is false when d is not a number, infinite, or too far for time.Duration.
func (d Days) After(t time.Time) (at time.Time, ok bool) {
	if math.IsNaN(float64(d)) || math.Abs(float64(d)) >= maxDays {
		return time.Time{}, false
	}
	return t.Add(time.Duration(float64(d) * float64(24*time.Hour))), true
}

// Hours is d in hours.
func (d Days) Hours() float64 { return float64(d) * 24 }

// Celsius is a temperature in degrees Celsius.
type Celsius float64

// Kelvin is t on the thermodynamic scale.
func (t Celsius) Kelvin() float64 { return float64(t) + zeroCelsiusInKelvin }

// Fahrenheit makes a temperature from degrees Fahrenheit.
func Fahrenheit(f float64) Celsius { return Celsius((f - 32) / 1.8) }

// Fahrenheit is t in degrees Fahrenheit.
func (t Celsius) Fahrenheit() float64 { return float64(t)*1.8 + 32 }

// Pascals is an absolute pressure.
type Pascals float64

// Bar is p in bar.
func (p Pascals) Bar() float64 { return float64(p) / PascalsPerBar }

// PSI is p in pounds-force per square inch.
func (p Pascals) PSI() float64 { return float64(p) / PascalsPerPSI }

// Bar makes an absolute pressure from bar.
func Bar(bar float64) Pascals { return Pascals(bar * PascalsPerBar) }

// Litres is a volume.
type Litres float64

// CubicMetres is l in cubic metres.
func (l Litres) CubicMetres() float64 { return float64(l) / LitresPerCubicMetre }

// GramsPerLitre is a density or a concentration. It equals kg/m³.
type GramsPerLitre float64

// In is the mass of this density filling v.
func (c GramsPerLitre) In(v Litres) Grams { return Grams(float64(c) * float64(v)) }

// PPM is a mole (volume) fraction in parts per million.
type PPM float64
