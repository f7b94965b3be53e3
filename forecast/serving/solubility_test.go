package serving

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

// Weiss (1974) per litre, at salinity 0, recomputed from coefficients read in public oceanography codes: printed
// digits. Soluble at 1 atm of CO2 is less by the fugacity coefficient, 0.6 % at most. A classical absorption table,
// read in a brewing text, which lies from 2 % below to 4.5 % above (at 0 °C) up to 20 °C.
func TestSolubilityTable(t *testing.T) {
	for _, r := range reftest.Rows(t, "co2_solubility_water") {
		at := unit.Celsius(r.Num(t, "t_degC"))
		k0 := henry(at)
		reftest.Within(t, r["t_degC"]+" K0", k0, r.Num(t, "weiss_1974_k0_mol_per_l_atm"), 0.6e-8)
		reftest.Within(t, r["t_degC"]+" g/L", k0*molarMass, r.Num(t, "weiss_g_per_l_at_1_atm_co2"), 0.6e-6)
		reftest.Within(t, r["t_degC"]+" volumes", float64(InVolumes(unit.GramsPerLitre(k0*molarMass))), r.Num(t, "weiss_volumes_at_1_atm_co2"), 1e-6)
		c, err := Soluble(co2.Atmosphere, at)
		if err != nil {
			t.Fatal(err)
		}
		reftest.Near(t, r["t_degC"]+" at 1 atm", float64(c), r.Num(t, "weiss_g_per_l_at_1_atm_co2"), 0.007)
		if old := r.Num(t, "absorption_table_ml_per_ml_at_1_atm"); !math.IsNaN(old) && at <= 20 {
			reftest.Near(t, r["t_degC"]+" absorption table", float64(InVolumes(c)), old, 0.046)
		}
	}
}

// Pressure squeezes dissolved CO2, too: at 20 atm and 20 °C it makes it less by exp(-32.3 cm³/mol · 19 atm/(RT)) = 0.9748, by hand from
// Weiss's Eq. 5 with R = 8.31446 J/(mol K) (CODATA 2018).
func TestPressureOnSolution(t *testing.T) {
	f, err := co2.Fugacity(20*co2.Atmosphere, 20)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Soluble(20*co2.Atmosphere, 20)
	if err != nil {
		t.Fatal(err)
	}
	reftest.Near(t, "of what the fugacity alone dissolves", float64(c)/(henry(20)*molarMass*float64(f/co2.Atmosphere)), 0.9748, 1e-4)
}

// A chart for beer (a polynomial fitted to the ASBC table, read on a brewing blog). Beer holds less than water: the
// water here lies from 1 % below the chart to 11 % above over the whole of it.
func TestCarbonationChart(t *testing.T) {
	for _, r := range reftest.Rows(t, "carbonation_chart") {
		at := unit.Fahrenheit(r.Num(t, "t_degF"))
		p := unit.Pascals(r.Num(t, "gauge_pressure_psi")*unit.PascalsPerPSI) + co2.Atmosphere
		c, err := Soluble(p, at)
		if err != nil {
			t.Fatal(err)
		}
		ratio := float64(InVolumes(c)) / r.Num(t, "volumes_by_polynomial_fit_of_asbc_table")
		if ratio < 0.99 || ratio > 1.11 {
			t.Errorf("%s °F %s psi: water %.3f volumes, beer by the chart %s", r["t_degF"], r["gauge_pressure_psi"], InVolumes(c), r["volumes_by_polynomial_fit_of_asbc_table"])
		}
	}
}

// One volume is 1.977 g/L: density of CO2 gas at 0 °C and 1 atm.
func TestVolume(t *testing.T) {
	rho, err := co2.GasDensity(0)
	if err != nil {
		t.Fatal(err)
	}
	reftest.Near(t, "one volume", float64(PerVolume), float64(rho), 2e-6)
	if s := fmt.Sprintf("%.1f", InVolumes(6.1)); s != "3.1" {
		t.Errorf("6.1 g/L is %s volumes", s)
	}
}

// Colder water and more pressure hold more.
func TestSolubleProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := unit.Celsius(rapid.Float64Range(-1, 39).Draw(t, "C"))
		p := unit.Bar(rapid.Float64Range(0.01, 25).Draw(t, "bar"))
		c, err := Soluble(p, at)
		if err != nil {
			t.Fatal(err)
		}
		if warm, _ := Soluble(p, at+1); warm >= c {
			t.Errorf("warmer water holds %v, more than %v", warm, c)
		}
		if more, _ := Soluble(p*1.01, at); more <= c {
			t.Errorf("more pressure holds %v, less than %v", more, c)
		}
	})
}

func TestSolubleOutOfRange(t *testing.T) {
	for _, r := range []struct {
		p unit.Pascals
		t unit.Celsius
	}{{co2.Atmosphere, -2}, {co2.Atmosphere, 41}, {0, 5}, {unit.Bar(50), 5}, {co2.Atmosphere, unit.Celsius(math.NaN())}} {
		if c, err := Soluble(r.p, r.t); err == nil {
			t.Errorf("%+v: %v", r, c)
		}
	}
}
