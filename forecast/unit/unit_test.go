package unit_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

// Factors of NIST SP 811 appendix B.8 and of the definitions of inch, foot and gallon. The psi is rounded in the table.
func TestConversions(t *testing.T) {
	inch, err := unit.ParseVolume("1 cu in")
	if err != nil {
		t.Fatal(err)
	}
	have := map[string]float64{
		"in3":              1000 * float64(inch),
		"lb (avoirdupois)": unit.Pounds(1).Kilograms(),
		"oz (avoirdupois)": unit.GramsPerOunce,
		"psi":              unit.PascalsPerPSI,
		"bar":              float64(unit.Bar(1)),
		"atm":              unit.PascalsPerAtmosphere,
		"ft3":              unit.LitresPerCubicFoot,
		"US gal":           128 * unit.LitresPerUSFluidOunce,
	}
	checked := 0
	for _, r := range reftest.Rows(t, "unit_conversions") {
		if got, ok := have[r["from_unit"]]; ok {
			reftest.Near(t, r["from_unit"], got, r.Num(t, "factor"), 1e-15)
			checked++
		}
	}
	if checked != len(have) {
		t.Errorf("%d of %d units found in the table", checked, len(have))
	}
}

func TestTemperature(t *testing.T) {
	for _, r := range []struct{ f, c float64 }{{32, 0}, {212, 100}, {-40, -40}, {131, 55}} { // definition; 131 °F: 49 CFR 173.304a(c)
		reftest.Within(t, "to °C", float64(unit.Fahrenheit(r.f)), r.c, 1e-12)
		reftest.Within(t, "to °F", unit.Celsius(r.c).Fahrenheit(), r.f, 1e-12)
	}
	reftest.Within(t, "ice point", unit.Celsius(0).Kelvin(), 273.15, 0)
}

// Every pair of conversions is the identity.
func TestRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-1e9, 1e9).Draw(t, "x")
		for name, y := range map[string]float64{
			"kg":  unit.Kilograms(x).Kilograms(),
			"lb":  unit.Pounds(x).Pounds(),
			"bar": unit.Bar(x).Bar(),
			"°F":  unit.Fahrenheit(x).Fahrenheit(),
		} {
			if math.Abs(y-x) > 1e-9*(1+math.Abs(x)) {
				t.Errorf("%s: %g became %g", name, x, y)
			}
		}
		d := unit.Days(rapid.Float64Range(-1e4, 1e4).Draw(t, "days"))
		byDay, byHour := unit.GramsPerDay(24*x).Over(d), unit.GramsPerHour(x).Over(d)
		if math.Abs(float64(byDay-byHour)) > 1e-9*math.Abs(float64(byDay))+1e-300 {
			t.Errorf("%g g/h over %g days: %g or %g g", x, float64(d), float64(byHour), float64(byDay))
		}
	})
}

func TestDaysAfter(t *testing.T) {
	start := time.Date(2026, 3, 28, 12, 0, 0, 0, time.UTC)
	rows := []struct {
		name string
		days unit.Days
		ok   bool
	}{
		{"none", 0, true},
		{"backwards", -1.5, true},
		{"291 years", 291 * 365.25, true},
		{"293 years do not fit", 293 * 365.25, false},
		{"minus 293 years do not fit", -293 * 365.25, false},
		{"never", unit.Days(math.Inf(1)), false},
		{"not a number", unit.Days(math.NaN()), false},
	}
	for _, r := range rows {
		at, ok := r.days.After(start)
		if ok != r.ok {
			t.Errorf("%s: ok %v", r.name, ok)
		}
		if back := unit.Between(start, at); ok && math.Abs(float64(back-r.days)) > 1e-6 {
			t.Errorf("%s: %v came back as %v", r.name, r.days, back)
		}
	}
}

func TestSmallConversions(t *testing.T) {
	reftest.Near(t, "psi", unit.Bar(1).PSI(), 14.503773773, 1e-9) // NIST SP 811, appendix B.8, inverted
	reftest.Near(t, "m³", unit.Litres(38000).CubicMetres(), 38, 1e-15)
	reftest.Near(t, "density", float64(unit.GramsPerLitre(680).In(10)), 6800, 1e-15)
	reftest.Near(t, "hours", unit.Days(2).Hours(), 48, 1e-15)
}
