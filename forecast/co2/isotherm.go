package co2

import "math"

// isotherm is the residual Helmholtz energy φʳ(δ, τ) of Span & Wagner (1996), Eq. (6.5), at one temperature.
// What depends on temperature alone is worked out once, because saturation and density need several
// densities at the same temperature.
type isotherm struct {
	kelvin float64
	tau    float64
	power  [len(powers)]float64 // n·τ^t
	bell   [len(bells)]float64  // n·τ^t·exp(-β(τ-γ)²)
	cusp   [len(cusps)]float64  // n·exp(-D(τ-1)²)
}

func newIsotherm(kelvin float64) isotherm {
	tau := criticalKelvin / kelvin
	s := isotherm{kelvin: kelvin, tau: tau}
	for i, k := range powers {
		s.power[i] = k.n * math.Pow(tau, k.t)
	}
	for i, k := range bells {
		s.bell[i] = k.n * math.Pow(tau, k.t) * math.Exp(-k.beta*(tau-k.gamma)*(tau-k.gamma))
	}
	for i, k := range cusps {
		s.cusp[i] = k.n * math.Exp(-k.D*(tau-1)*(tau-1))
	}
	return s
}

// residual is φʳ with its first and second derivative by δ (Span & Wagner 1996, Table 32).
type residual struct{ phi, d1, d2 float64 }

func (r *residual) add(phi, d1, d2 float64) {
	r.phi += phi
	r.d1 += d1
	r.d2 += d2
}

// at is φʳ at reduced density delta = ρ/ρc > 0.
func (s *isotherm) at(delta float64) residual {
	var pow [11]float64 // δ^i
	pow[0] = 1
	for i := 1; i < len(pow); i++ {
		pow[i] = pow[i-1] * delta
	}
	var fade [7]float64 // exp(-δ^c)
	fade[0] = 1
	for c := 1; c < len(fade); c++ {
		fade[c] = math.Exp(-pow[c])
	}
	var r residual
	for i := range powers {
		k := &powers[i]
		phi := s.power[i] * pow[k.d] * fade[k.c]
		c, d := float64(k.c), float64(k.d)
		cd := c * pow[k.c]
		r.add(phi, phi*(d-cd)/delta, phi*((d-cd)*(d-1-cd)-c*cd)/(delta*delta))
	}
	for i := range bells {
		k := &bells[i]
		x, d := delta-k.epsilon, float64(k.d)
		phi := s.bell[i] * pow[k.d] * math.Exp(-k.alpha*x*x)
		slope := d/delta - 2*k.alpha*x
		r.add(phi, phi*slope, phi*(slope*slope-d/(delta*delta)-2*k.alpha))
	}
	for i := range cusps {
		r.add(s.cuspAt(i, delta))
	}
	return r
}

// cuspAt is term 40+i and its derivatives. At δ = 1 the derivatives of Δ^b are taken as their limit, 0.
func (s *isotherm) cuspAt(i int, delta float64) (phi, d1, d2 float64) {
	k := &cusps[i]
	x := delta - 1
	x2 := x * x
	root := math.Pow(x2, 1/(2*k.beta))
	xa := math.Pow(x2, k.a)
	theta := 1 - s.tau + k.A*root
	D := theta*theta + k.B*xa

	psi := s.cusp[i] * math.Exp(-k.C*x2)
	psi1 := -2 * k.C * x * psi
	psi2 := (2*k.C*x2 - 1) * 2 * k.C * psi
	Db := math.Pow(D, k.b)
	var Db1, Db2 float64
	if x != 0 && D > 0 {
		// root/x2 and xa/x2 are the powers with the exponent lowered by one.
		D1 := x * (k.A*theta*2/k.beta*root/x2 + 2*k.B*k.a*xa/x2)
		D2 := D1/x + 4*k.B*k.a*(k.a-1)*xa/x2 +
			2*k.A*k.A/(k.beta*k.beta)*root*root/x2 +
			k.A*theta*4/k.beta*(1/(2*k.beta)-1)*root/x2
		Db1 = k.b * Db / D * D1
		Db2 = k.b * Db / D * (D2 + (k.b-1)*D1*D1/D)
	}
	return Db * delta * psi,
		Db*(psi+delta*psi1) + Db1*delta*psi,
		Db*(2*psi1+delta*psi2) + 2*Db1*(psi+delta*psi1) + Db2*delta*psi
}

// pressure is p = ρRT(1 + δφʳ_δ) in Pa with its derivative by ρ in Pa/(kg/m³), at rho in kg/m³.
// It is that of the homogeneous fluid, stable or not.
func (s *isotherm) pressure(rho float64) (p, slope float64) {
	delta := rho / criticalDensity
	r := s.at(delta)
	rt := GasConstant * s.kelvin
	return rho * rt * (1 + delta*r.d1), rt * (1 + 2*delta*r.d1 + delta*delta*r.d2)
}
