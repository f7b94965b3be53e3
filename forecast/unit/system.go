package unit

import (
	"fmt"
	"math"
)

// System is a system of units in which people write and read.
type System int

// The systems.
const (
	Metric System = iota
	US
)

// String is the system's name.
func (s System) String() string { return [...]string{"metric", "US"}[s] }

// Fixed is m in kilograms or pounds with so many decimals.
func (s System) Fixed(m Grams, decimals int) string {
	if s == US {
		return fmt.Sprintf("%.*f lb", decimals, m.Pounds())
	}
	return fmt.Sprintf("%.*f kg", decimals, m.Kilograms())
}

// Exact is m in kilograms to the gram or in pounds to a hundredth, the last digit that a scale shows.
func (s System) Exact(m Grams) string {
	if s == US {
		return Number(m.Pounds(), 0, 2) + " lb"
	}
	return Number(m.Kilograms(), 0, 3) + " kg"
}

// Mass is m rounded for reading: to 10 g below 1 kg, to 0.1 oz below 1 lb, else to one decimal.
func (s System) Mass(m Grams) string {
	size := math.Abs(float64(m))
	switch {
	case s == US && size < GramsPerPound:
		return ounces(m, 1)
	case s == Metric && size < 995:
		return fmt.Sprintf("%.0f g", RoundTo(float64(m), 10))
	}
	return s.Fixed(m, 1)
}

// Small is Mass for what is used in a day or lost: below 100 g to the gram.
func (s System) Small(m Grams) string {
	if s == Metric && math.Abs(float64(m)) < 100 {
		return fmt.Sprintf("%.0f g", float64(m))
	}
	return s.Mass(m)
}

// Fine is m to a tenth of a gram or a hundredth of an ounce.
func (s System) Fine(m Grams) string {
	if s == US {
		return ounces(m, 2)
	}
	return fmt.Sprintf("%.1f g", float64(m))
}

func ounces(m Grams, decimals int) string {
	return fmt.Sprintf("%.*f oz", decimals, float64(m)/GramsPerOunce)
}

// Temperature is t to a tenth of a degree Celsius or to a degree Fahrenheit.
func (s System) Temperature(t Celsius) string {
	if s == US {
		return fmt.Sprintf("%.0f °F", t.Fahrenheit())
	}
	return Number(float64(t), 0, 1) + " °C"
}

// Pressure is p in bar with at most so many decimals, or in whole psi.
func (s System) Pressure(p Pascals, decimals int) string {
	if s == US {
		return fmt.Sprintf("%.0f psi", p.PSI())
	}
	return Number(p.Bar(), 0, decimals) + " bar"
}

// RoundTo is the multiple of step that is nearest to x.
func RoundTo(x, step float64) float64 { return math.Round(x/step) * step }
