package unit_test

import (
	"testing"

	"tarebell/forecast/unit"
)

// TestSystem: each quantity as it is read in both systems, on both sides of where the unit changes. 1 lb is 453.59237 g, 1 oz a sixteenth of it, 1 psi
// 6894.757 Pa (NIST SP 811, appendix B.8).
func TestSystem(t *testing.T) {
	for _, c := range []struct {
		what             func(unit.System) string
		metric, american string
	}{
		{func(s unit.System) string { return s.Mass(9_070) }, "9.1 kg", "20.0 lb"},
		{func(s unit.System) string { return s.Mass(996) }, "1.0 kg", "2.2 lb"},
		{func(s unit.System) string { return s.Mass(-426) }, "-430 g", "-15.0 oz"},
		{func(s unit.System) string { return s.Mass(54) }, "50 g", "1.9 oz"},
		{func(s unit.System) string { return s.Small(54) }, "54 g", "1.9 oz"},
		{func(s unit.System) string { return s.Small(426) }, "430 g", "15.0 oz"},
		{func(s unit.System) string { return s.Exact(24_845) }, "24.845 kg", "54.77 lb"},
		{func(s unit.System) string { return s.Fixed(15_400, 2) }, "15.40 kg", "33.95 lb"},
		{func(s unit.System) string { return s.Fine(5.98) }, "6.0 g", "0.21 oz"},
		{func(s unit.System) string { return s.Temperature(20.5) }, "20.5 °C", "69 °F"},
		{func(s unit.System) string { return s.Pressure(5e5, 1) }, "5 bar", "73 psi"},
		{func(s unit.System) string { return s.Pressure(14.24e6, 0) }, "142 bar", "2065 psi"},
		{unit.System.String, "metric", "US"},
	} {
		if got := c.what(unit.Metric); got != c.metric {
			t.Errorf("%q, want %q", got, c.metric)
		}
		if got := c.what(unit.US); got != c.american {
			t.Errorf("%q, want %q", got, c.american)
		}
	}
}
