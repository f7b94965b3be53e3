package co2

import (
	"fmt"
	"math"

	"tarebell/forecast/unit"
)

// Sat is liquid and vapour in equilibrium.
type Sat struct {
	P              unit.Pascals       // vapour pressure
	Liquid, Vapour unit.GramsPerLitre // densities of the two
}

// Saturation is the equilibrium of liquid and vapour at t, where both have the same pressure and the same
// Gibbs energy g/(RT) = ln δ + φʳ + 1 + δφʳ_δ (+ terms of T alone, which cancel).
//
// t lies from the triple point, -56.558 °C, to the critical point, 30.978 °C; at the critical point both
// densities are the critical one. Within 2 mK below it, where the two branches can no longer be told apart
// numerically, the paper's explicit equations stand in. Anything else is an error.
//
// Source: Span & Wagner (1996), section 2 and Table 34; solved by Newton's method in both densities (as
// Akasaka 2008 does), started from the explicit Eq. (3.13) and sections 3.6, 3.7.
func Saturation(t unit.Celsius) (Sat, error) {
	if !between(t, tripleKelvin, criticalKelvin) {
		return Sat{}, fmt.Errorf("saturation of CO2 at %g °C: liquid and vapour exist together only from %.3f to %.3f °C",
			float64(t), float64(TripleTemperature), float64(CriticalTemperature))
	}
	s := newIsotherm(t.Kelvin())
	return s.saturation(), nil
}

// explicit is the saturation state by the paper's explicit equations, at kelvin held below the critical one.
func explicit(kelvin float64) Sat {
	theta := max(0, 1-kelvin/criticalKelvin)
	sum := func(terms []ancillary) (v float64) {
		for _, k := range terms {
			v += k.a * math.Pow(theta, k.t)
		}
		return v
	}
	return Sat{
		P:      unit.Pascals(criticalPascals * math.Exp(criticalKelvin/kelvin*sum(vapourPressureTerms))),
		Liquid: unit.GramsPerLitre(criticalDensity * math.Exp(sum(liquidDensityTerms))),
		Vapour: unit.GramsPerLitre(criticalDensity * math.Exp(sum(vapourDensityTerms))),
	}
}

// saturation improves the explicit equations until rounding keeps Newton's steps, which shrink quadratically, from becoming smaller.
func (s *isotherm) saturation() Sat {
	guess := explicit(s.kelvin)
	if criticalKelvin-s.kelvin < 2e-3 {
		return guess
	}
	liq, vap := float64(guess.Liquid)/criticalDensity, float64(guess.Vapour)/criticalDensity
	for last := math.Inf(1); ; {
		l, v := s.at(liq), s.at(vap)
		// J is p/(ρc R T), K is the Gibbs energy over RT; both less what is common.
		dJ := vap*(1+vap*v.d1) - liq*(1+liq*l.d1)
		dK := vap*v.d1 + v.phi + math.Log(vap) - liq*l.d1 - l.phi - math.Log(liq)
		Jl, Jv := 1+2*liq*l.d1+liq*liq*l.d2, 1+2*vap*v.d1+vap*vap*v.d2
		Kl, Kv := Jl/liq, Jv/vap // dK/dδ = (dJ/dδ)/δ at constant temperature
		det := Jv*Kl - Jl*Kv
		stepL, stepV := (Kv*dJ-Jv*dK)/-det, (Kl*dJ-Jl*dK)/-det
		// Never across the critical density: halve until both stay on their side.
		for liq+stepL <= 1 || vap+stepV >= 1 || vap+stepV <= 0 {
			stepL, stepV = stepL/2, stepV/2
		}
		step := math.Abs(stepL) + math.Abs(stepV)
		if !(step < last) {
			p, _ := s.pressure(vap * criticalDensity)
			return Sat{unit.Pascals(p), unit.GramsPerLitre(liq * criticalDensity), unit.GramsPerLitre(vap * criticalDensity)}
		}
		liq, vap, last = liq+stepL, vap+stepV, step
	}
}
