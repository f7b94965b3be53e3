// Package co2 gives the properties of carbon dioxide that a cylinder on a scale needs, and the physics of
// that cylinder: why pressure says nothing while liquid is left, what is left when the liquid is gone,
// what cannot be used, and what heat does to a full one.
//
// Properties come from the equation of state of R. Span and W. Wagner, "A New Equation of State for Carbon
// Dioxide Covering the Fluid Region from the Triple-Point Temperature to 1100 K at Pressures up to 800 MPa",
// J. Phys. Chem. Ref. Data 25 (1996) 1509-1596, all 42 residual terms. Its ideal-gas part (Table 27) cancels
// out of everything here and is left out. Stated uncertainty in density below 30 MPa: 0.03 to 0.05 %.
//
// All pressures are absolute. Densities in g/L equal kg/m³.
package co2

import (
	"fmt"
	"math"

	"tarebell/forecast/unit"
)

// Atmosphere is the standard atmosphere.
const Atmosphere unit.Pascals = unit.PascalsPerAtmosphere

// Phase is what a closed vessel holds.
type Phase int

// The phases.
const (
	Gas           Phase = iota
	TwoPhase            // liquid with vapour above it
	Liquid              // liquid fills the vessel; pressure climbs steeply with temperature
	Supercritical       // above critical temperature and pressure
)

// String is the phase in words.
func (p Phase) String() string {
	return [...]string{"gas", "two-phase", "liquid", "supercritical"}[p]
}

// State is the equilibrium pressure and phase at overall density rho and temperature t:
//
//	p = ρRT(1 + δφʳ_δ),  or the vapour pressure where ρ lies between the saturated densities.
//
// rho is mass over volume in g/L, above 0; t lies from -56.558 °C to 826.85 °C (216.592 K to 1100 K).
// Outside these, and where the pressure would be above 800 MPa or the substance frozen (above the melting
// pressure), the result is an error. Source: Span & Wagner (1996), Eq. (6.5), Table 32; melting Eq. (3.10).
func State(rho unit.GramsPerLitre, t unit.Celsius) (unit.Pascals, Phase, error) {
	if err := checkTemperature(t); err != nil {
		return 0, 0, fmt.Errorf("pressure of CO2: %w", err)
	}
	if !(rho > 0) || math.IsInf(float64(rho), 0) {
		return 0, 0, fmt.Errorf("pressure of CO2: density %g g/L: must be above 0", float64(rho))
	}
	s := newIsotherm(t.Kelvin())
	phase := Gas
	if s.kelvin < criticalKelvin {
		sat := s.saturation()
		switch {
		case rho > sat.Vapour && rho < sat.Liquid:
			return sat.P, TwoPhase, nil
		case rho >= sat.Liquid:
			phase = Liquid
		}
	}
	v, _ := s.pressure(float64(rho))
	p := unit.Pascals(v)
	if !(p <= maxPascals) || p > melting(s.kelvin) {
		return 0, 0, fmt.Errorf("pressure of CO2 at %g g/L and %g °C: denser than the equation of state covers", float64(rho), float64(t))
	}
	if phase == Gas && s.kelvin >= criticalKelvin && p >= criticalPascals {
		phase = Supercritical
	}
	return p, phase, nil
}

// melting is the pressure above which CO2 freezes, Span & Wagner (1996) Eq. (3.10).
func melting(kelvin float64) unit.Pascals {
	const triplePascals = 517950
	x := kelvin/tripleKelvin - 1
	return unit.Pascals(triplePascals * (1 + 1955.539*x + 2055.4593*x*x))
}

func checkTemperature(t unit.Celsius) error {
	if !between(t, tripleKelvin, maxKelvin) {
		return fmt.Errorf("temperature %g °C: must be from %.3f to %.2f °C", float64(t), float64(TripleTemperature), maxKelvin-273.15)
	}
	return nil
}

// between reports that t lies from low to high K, or next to them: what was K before it was °C may be off by a rounding error.
func between(t unit.Celsius, low, high float64) bool {
	return t.Kelvin() >= math.Nextafter(low, 0) && t.Kelvin() <= math.Nextafter(high, math.Inf(1))
}

// VapourDensity is the density of gaseous CO2 at pressure p and temperature t: the root of p(ρ, t) = p on
// the gas side.
//
// p is above 0 and, below the critical temperature, not above the vapour pressure, where the gas would turn to
// liquid; above the critical temperature not above 800 MPa. t as in State. Anything else is an error.
func VapourDensity(p unit.Pascals, t unit.Celsius) (unit.GramsPerLitre, error) {
	if err := checkTemperature(t); err != nil {
		return 0, fmt.Errorf("density of CO2 gas: %w", err)
	}
	if !(p > 0 && p <= maxPascals) {
		return 0, fmt.Errorf("density of CO2 gas at %g bar: pressure must be above 0 and at most 8000 bar", p.Bar())
	}
	s := newIsotherm(t.Kelvin())
	top, ceiling := s.gasSide()
	if p > ceiling*(1+1e-9) {
		return 0, fmt.Errorf("density of CO2 gas at %.4g bar and %g °C: above the vapour pressure of %.4g bar it is liquid",
			p.Bar(), float64(t), ceiling.Bar())
	}
	if p >= ceiling {
		return top, nil
	}
	return unit.GramsPerLitre(s.density(float64(p), float64(top))), nil
}

// gasSide is the densest gas at this temperature and its pressure: saturated vapour below the critical temperature,
// the end of the range of validity above it.
func (s *isotherm) gasSide() (unit.GramsPerLitre, unit.Pascals) {
	if s.kelvin >= criticalKelvin {
		return 1600, maxPascals // denser than CO2 is anywhere in the range
	}
	sat := s.saturation()
	return sat.Vapour, sat.P
}

// density is the rho in (0, top] with pressure p, which rises all the way there: Newton's method, and
// bisection whenever a step leaves the bracket, until rounding ends it. So thin a gas that powers of δ underflow is ideal.
func (s *isotherm) density(p, top float64) float64 {
	low, high := 0.0, top
	rho := min(p/(GasConstant*s.kelvin), top/2)
	if rho*rho/criticalDensity/criticalDensity == 0 {
		return rho
	}
	for {
		have, slope := s.pressure(rho)
		if have < p {
			low = rho
		} else {
			high = rho
		}
		next := rho + (p-have)/slope
		if !(next > low && next < high) {
			next = (low + high) / 2
		}
		if next == rho {
			return rho
		}
		rho = next
	}
}

// GasDensity is the density of CO2 gas in open air, at one standard atmosphere and t: 1.977 g/L at 0 °C,
// 1.839 at 20 °C. Errors as for VapourDensity.
func GasDensity(t unit.Celsius) (unit.GramsPerLitre, error) { return VapourDensity(Atmosphere, t) }

// Fugacity is the fugacity of CO2 gas at pressure p and temperature t, the pressure that decides how much of it
// dissolves:
//
//	ln(f/p) = φʳ + δφʳ_δ - ln(1 + δφʳ_δ)
//
// Range and errors as for VapourDensity. Source: Span & Wagner (1996), Helmholtz energy of section 6; the relation is thermodynamics.
func Fugacity(p unit.Pascals, t unit.Celsius) (unit.Pascals, error) {
	rho, err := VapourDensity(p, t)
	if err != nil {
		return 0, fmt.Errorf("fugacity: %w", err)
	}
	s := newIsotherm(t.Kelvin())
	delta := float64(rho) / criticalDensity
	r := s.at(delta)
	z1 := delta * r.d1 // Z - 1
	return p * unit.Pascals(math.Exp(r.phi+z1-math.Log1p(z1))), nil
}
