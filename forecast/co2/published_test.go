package co2

import (
	"fmt"
	"testing"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

func saturation(t testing.TB, at unit.Celsius) Sat {
	t.Helper()
	s, err := Saturation(at)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Span & Wagner (1996) Table 34 (p. 1560), read in a secondary source: half a unit of the last printed digit.
// The critical point is the definition. An ASHRAE table of densities from an older equation: 1 %.
func TestSaturationTable34AndASHRAE(t *testing.T) {
	for _, r := range reftest.Rows(t, "co2_saturation_published") {
		kelvin := r.Num(t, "t_K")
		s := saturation(t, unit.Celsius(kelvin-273.15))
		liq, vap := r.Num(t, "rho_liquid_kg_m3"), r.Num(t, "rho_vapour_kg_m3")
		name := fmt.Sprintf("%s %g K", r["source"], kelvin)
		if r["source"] == "ashrae_table_in_coolprop" {
			reftest.Near(t, name+" liquid", float64(s.Liquid), liq, 0.01)
			reftest.Near(t, name+" vapour", float64(s.Vapour), vap, 0.01)
			continue
		}
		reftest.Near(t, name+" pressure", float64(s.P), 1e6*r.Num(t, "p_sat_MPa_abs"), 3.5e-5)
		reftest.Near(t, name+" liquid", float64(s.Liquid), liq, 1e-5)
		reftest.Near(t, name+" vapour", float64(s.Vapour), vap, 4e-5)
	}
}

// A university's R744 table (its own origin is not stated), -20 to 2 °C: half a unit of the last printed digit.
func TestSaturationUniversityTable(t *testing.T) {
	for _, r := range reftest.Rows(t, "co2_saturation_published_volumes") {
		s := saturation(t, unit.Celsius(r.Num(t, "t_degC")))
		reftest.Within(t, r["t_degC"]+" MPa", float64(s.P)/1e6, r.Num(t, "p_sat_MPa_abs"), 0.51e-4)
		reftest.Within(t, r["t_degC"]+" v'", 1/float64(s.Liquid), r.Num(t, "v_liquid_m3_kg"), 0.51e-6)
		reftest.Within(t, r["t_degC"]+" v\"", 1/float64(s.Vapour), r.Num(t, "v_vapour_m3_kg"), 0.51e-6)
	}
}

// CoolProp's own saturation expansions (a general-purpose library), -50 to 30.9 °C. It works on a molar basis and
// with 12-digit coefficients, which shifts the pressure by 2.2e-7: 1e-6, and 1e-5 in density near the critical point.
func TestSaturationCoolProp(t *testing.T) {
	for _, r := range reftest.Rows(t, "co2_saturation_coolprop") {
		at := r.Num(t, "t_degC")
		s := saturation(t, unit.Celsius(at))
		tolerance := 1e-6
		if at > 30 {
			tolerance = 1e-5
		}
		reftest.Near(t, r["t_degC"]+" pressure", s.P.Bar(), r.Num(t, "p_sat_bar_abs"), 1e-6)
		reftest.Near(t, r["t_degC"]+" liquid", float64(s.Liquid), r.Num(t, "rho_liquid_kg_m3"), tolerance)
		reftest.Near(t, r["t_degC"]+" vapour", float64(s.Vapour), r.Num(t, "rho_vapour_kg_m3"), tolerance)
	}
}

// An independent implementation of the same equation, and the paper's explicit equations beside it: printed digits.
func TestSaturationComputed(t *testing.T) {
	for _, r := range reftest.Rows(t, "co2_saturation_computed") {
		at := unit.Celsius(r.Num(t, "t_degC"))
		s, e := saturation(t, at), explicit(at.Kelvin())
		reftest.Within(t, r["t_degC"]+" bar", s.P.Bar(), r.Num(t, "p_sat_bar_abs"), 0.6e-5)
		reftest.Within(t, r["t_degC"]+" liquid", float64(s.Liquid), r.Num(t, "rho_liquid_kg_m3"), 0.6e-3)
		reftest.Within(t, r["t_degC"]+" vapour", float64(s.Vapour), r.Num(t, "rho_vapour_kg_m3"), 0.6e-4)
		reftest.Within(t, r["t_degC"]+" bar, Eq. (3.13)", e.P.Bar(), r.Num(t, "p_sat_ancillary_bar_abs"), 0.6e-5)
		reftest.Within(t, r["t_degC"]+" liquid, 3.6", float64(e.Liquid), r.Num(t, "rho_liquid_ancillary_kg_m3"), 0.6e-3)
		reftest.Within(t, r["t_degC"]+" vapour, 3.7", float64(e.Vapour), r.Num(t, "rho_vapour_ancillary_kg_m3"), 0.6e-4)
	}
}

// Span & Wagner (1996) Table 35 (p. 1562 ff.), read in a secondary source. Gas: pressure at the printed density to
// 1e-4. Liquid pressure is so steep that the last printed digit of the density decides: 5e-3 there, and density from
// pressure on the gas side to half a printed digit.
func TestSinglePhaseTable35(t *testing.T) {
	for _, r := range reftest.Rows(t, "co2_single_phase_published") {
		at := unit.Celsius(r.Num(t, "t_K") - 273.15)
		rho, want := r.Num(t, "rho_kg_m3"), unit.Pascals(r.Num(t, "p_Pa_abs"))
		name := fmt.Sprintf("%s K %s Pa", r["t_K"], r["p_Pa_abs"])
		got, phase, err := State(unit.GramsPerLitre(rho), at)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		liquid := r["phase"] == "liquid"
		if liquid != (phase == Liquid) {
			t.Errorf("%s: phase %v, table says %s", name, phase, r["phase"])
		}
		if liquid {
			reftest.Near(t, name, float64(got), float64(want), 5e-3)
			continue
		}
		reftest.Near(t, name, float64(got), float64(want), 1e-4)
		density, err := VapourDensity(want, at)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		reftest.Near(t, name+" density", float64(density), rho, 6e-5)
	}
}

// An independent implementation: printed digits.
func TestVapourDensity(t *testing.T) {
	for _, r := range reftest.Rows(t, "co2_vapour_density_computed") {
		at, p := unit.Celsius(r.Num(t, "t_degC")), unit.Bar(r.Num(t, "p_bar_abs"))
		rho, err := VapourDensity(p, at)
		if err != nil {
			t.Fatal(err)
		}
		name := r["t_degC"] + " °C " + r["p_bar_abs"] + " bar"
		reftest.Within(t, name, float64(rho), r.Num(t, "rho_kg_m3"), 0.6e-5)
		z := float64(p) / (float64(rho) * GasConstant * at.Kelvin())
		reftest.Within(t, name+" Z", z, r.Num(t, "compressibility_factor_Z"), 0.6e-6)
	}
	for _, r := range reftest.Rows(t, "co2_gas_density_points") {
		rho, err := VapourDensity(unit.Pascals(r.Num(t, "p_Pa_abs")), unit.Celsius(r.Num(t, "t_degC")))
		if err != nil {
			t.Fatal(err)
		}
		reftest.Within(t, r["t_degC"], float64(rho), r.Num(t, "rho_g_per_l_span_wagner"), 0.6e-6)
	}
	if rho, err := GasDensity(0); err != nil || fmt.Sprintf("%.3f", rho) != "1.977" {
		t.Errorf("one volume of CO2: %v g/L, %v; want 1.977", rho, err)
	}
}
