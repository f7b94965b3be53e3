package unit_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
)

func TestMasses(t *testing.T) {
	for in, want := range map[string]float64{
		"12 kg": 12000, "12kg": 12000, " 12  KG ": 12000, "14.30 kg": 14300, "14,3 kg": 14300, "0,375 kg": 375,
		"135 lb 6 oz": 135*453.59237 + 6*28.349523125, "135lb6oz": 135*453.59237 + 6*28.349523125,
		"6 oz": 170.09713875, ".5 kg": 500, "+3 g": 3, "-3 g": -3, "2 kg 30 g": 2030,
	} {
		if got, err := unit.ParseMass(in); err != nil || math.Abs(float64(got)-want) > 1e-6 {
			t.Errorf("%q = %v, %v; want %v", in, got, err, want)
		}
	}
}

// TestMassesInAnyUnit: kilograms, grams, pounds and ounces of one mass read as one mass.
func TestMassesInAnyUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		thousandths := rapid.IntRange(0, 100_000_000).Draw(t, "thousandths")
		name := rapid.SampledFrom([]string{"g", "kg", "lb", "oz"}).Draw(t, "unit")
		size, _ := unit.MassUnit(name)
		got, err := unit.ParseMass(fixed(thousandths) + " " + name)
		if want := float64(thousandths) / 1000 * float64(size); err != nil || math.Abs(float64(got)-want) > 1e-6 {
			t.Fatalf("%s %s = %v, %v; want %v", fixed(thousandths), name, got, err, want)
		}
	})
}

// Factors: NIST SP 811 appendix B.8; the cubic inch by the definition of the inch.
func TestParse(t *testing.T) {
	volume := func(s string) (float64, error) { v, err := unit.ParseVolume(s); return float64(v), err }
	pressure := func(s string) (float64, error) { v, err := unit.ParsePressure(s); return float64(v), err }
	temperature := func(s string) (float64, error) { v, err := unit.ParseTemperature(s); return float64(v), err }
	for _, r := range []struct {
		parse func(string) (float64, error)
		in    string
		want  float64
	}{
		{volume, "14.9 L", 14.9}, {volume, "38 m3", 38000}, {volume, "1 ft³", 28.316846592}, {volume, "910 cu in", 910 * 0.016387064}, {volume, "12 fl oz", 0.35488235475},
		{pressure, "5 bar", 5e5}, {pressure, "4 barg", 4e5 + 101325}, {pressure, "60 PSIg", 60*6894.757293168361 + 101325}, {pressure, "0.5 MPa", 5e5}, {pressure, "500 kPa", 5e5},
		{temperature, "20 C", 20}, {temperature, "-40 °F", -40}, {temperature, "212F", 100},
	} {
		if got, err := r.parse(r.in); err != nil || math.Abs(got-r.want) > 1e-9*(1+math.Abs(r.want)) {
			t.Errorf("%q: %v, %v; want %v", r.in, got, err, r.want)
		}
	}
	for in, want := range map[string]string{
		"": "want a number and a unit: " + unit.MassUnits, "12": "no unit", "12 st": "unknown unit", "14,300 kg": "may be thousands", "1e3 kg": "exponent",
		"1.2.3 kg": "want a number", "6 oz 135 lb": "do not add up", "2 kg 3000 g": "do not add up", "NaN kg": "want a number", "1,2,3 kg": "two separators",
	} {
		if m, err := unit.ParseMass(in); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, %v; want %q", in, m, err, want)
		}
	}
	for _, r := range []struct {
		parse    func(string) (float64, error)
		in, want string
	}{
		{pressure, "5 mPa", "unknown unit; use " + unit.PressureUnits}, {pressure, "high", "a number and a unit: " + unit.PressureUnits},
		{volume, "14.9", "no unit; use " + unit.VolumeUnits}, {volume, "large", "a number and a unit: " + unit.VolumeUnits},
		{temperature, "20", "no unit; use C or F"}, {temperature, "293 K", "unknown unit; use C or F"}, {temperature, "warm", "a number and a unit: C or F"},
	} {
		if x, err := r.parse(r.in); err == nil || !strings.Contains(err.Error(), r.want) {
			t.Errorf("%q: %v, %v; want %q", r.in, x, err, r.want)
		}
	}
}

func TestMassIsWhatTheDecimalsSay(t *testing.T) {
	for x, want := range map[float64]unit.Grams{1.001: 1001, 24.845: 24845, -0.04: -40, 16.229: 16229, 1e-9: 1e-6} {
		if got := unit.MassOf(x, 1000); got != want {
			t.Errorf("%v kg is %v g", x, float64(got))
		}
	}
}

func TestNumber(t *testing.T) {
	for want, r := range map[string]struct {
		x           float64
		least, most int
	}{"24.875": {24.875, 3, 6}, "24.100": {24.1, 3, 6}, "0.000": {-1e-9, 3, 6}, "100": {100, 0, 0}, "61.4": {61.4, 0, 4}, "0": {-0.00001, 0, 2}, "-3.5": {-3.5, 0, 2}} {
		if got := unit.Number(r.x, r.least, r.most); got != want {
			t.Errorf("%v with %d to %d: %q, want %q", r.x, r.least, r.most, got, want)
		}
	}
}

func fixed(n int) string { return fmt.Sprintf("%d.%03d", n/1000, n%1000) }
