package co2

import "tarebell/forecast/unit"

// Constants of Span & Wagner (1996): critical and triple point from sections 2.1 and 2.2 (the paper's Table 3 ff.), the
// specific gas constant from Eq. (6.1) and Table 31's caption. Densities in kg/m³, which equals g/L.
const (
	criticalKelvin  = 304.1282
	criticalPascals = 7.3773e6
	criticalDensity = 467.6
	tripleKelvin    = 216.592

	maxKelvin  = 1100 // upper end of the equation's range of validity
	maxPascals = 800e6

	// GasConstant is the specific gas constant of CO2, J/(kg K).
	GasConstant = 188.9241
)

// The same points in the units of this module.
const (
	// CriticalTemperature is the temperature above which no liquid exists, 30.978 °C.
	CriticalTemperature unit.Celsius = criticalKelvin - 273.15
	// CriticalPressure is the vapour pressure there.
	CriticalPressure unit.Pascals = criticalPascals
	// CriticalDensity is the density there, of liquid and vapour alike.
	CriticalDensity unit.GramsPerLitre = criticalDensity
	// TripleTemperature is the lowest temperature at which liquid exists, -56.558 °C.
	TripleTemperature unit.Celsius = tripleKelvin - 273.15
)

// power is a term n·δ^d·τ^t·exp(-δ^c) of the residual Helmholtz energy; c = 0 stands for no exponential.
type power struct {
	n float64
	d int
	t float64
	c int
}

// powers are the terms 1 to 34 of Span & Wagner (1996), Table 31, residual part of Eq. (6.5).
var powers = [34]power{
	{n: 0.38856823203161, d: 1, t: 0},
	{n: 2.938547594274, d: 1, t: 0.75},
	{n: -5.5867188534934, d: 1, t: 1},
	{n: -0.76753199592477, d: 1, t: 2},
	{n: 0.31729005580416, d: 2, t: 0.75},
	{n: 0.54803315897767, d: 2, t: 2},
	{n: 0.12279411220335, d: 3, t: 0.75},
	{n: 2.165896154322, d: 1, t: 1.5, c: 1},
	{n: 1.5841735109724, d: 2, t: 1.5, c: 1},
	{n: -0.23132705405503, d: 4, t: 2.5, c: 1},
	{n: 0.058116916431436, d: 5, t: 0, c: 1},
	{n: -0.55369137205382, d: 5, t: 1.5, c: 1},
	{n: 0.48946615909422, d: 5, t: 2, c: 1},
	{n: -0.024275739843501, d: 6, t: 0, c: 1},
	{n: 0.062494790501678, d: 6, t: 1, c: 1},
	{n: -0.12175860225246, d: 6, t: 2, c: 1},
	{n: -0.37055685270086, d: 1, t: 3, c: 2},
	{n: -0.016775879700426, d: 1, t: 6, c: 2},
	{n: -0.11960736637987, d: 4, t: 3, c: 2},
	{n: -0.045619362508778, d: 4, t: 6, c: 2},
	{n: 0.035612789270346, d: 4, t: 8, c: 2},
	{n: -0.0074427727132052, d: 7, t: 6, c: 2},
	{n: -0.0017395704902432, d: 8, t: 0, c: 2},
	{n: -0.021810121289527, d: 2, t: 7, c: 3},
	{n: 0.024332166559236, d: 3, t: 12, c: 3},
	{n: -0.037440133423463, d: 3, t: 16, c: 3},
	{n: 0.14338715756878, d: 5, t: 22, c: 4},
	{n: -0.13491969083286, d: 5, t: 24, c: 4},
	{n: -0.02315122505348, d: 6, t: 16, c: 4},
	{n: 0.012363125492901, d: 7, t: 24, c: 4},
	{n: 0.002105832197294, d: 8, t: 8, c: 4},
	{n: -0.00033958519026368, d: 10, t: 2, c: 4},
	{n: 0.0055993651771592, d: 4, t: 28, c: 5},
	{n: -0.00030335118055646, d: 8, t: 14, c: 6},
}

// bell is a term n·δ^d·τ^t·exp(-α(δ-ε)² - β(τ-γ)²) of the residual Helmholtz energy.
type bell struct {
	n              float64
	d              int
	t              float64
	alpha, beta    float64
	gamma, epsilon float64
}

// bells are the terms 35 to 39 of Span & Wagner (1996), Table 31.
var bells = [5]bell{
	{n: -213.6548868832, d: 2, t: 1, alpha: 25, beta: 325, gamma: 1.16, epsilon: 1},
	{n: 26641.569149272, d: 2, t: 0, alpha: 25, beta: 300, gamma: 1.19, epsilon: 1},
	{n: -24027.212204557, d: 2, t: 1, alpha: 25, beta: 300, gamma: 1.19, epsilon: 1},
	{n: -283.41603423999, d: 3, t: 3, alpha: 15, beta: 275, gamma: 1.25, epsilon: 1},
	{n: 212.47284400179, d: 3, t: 3, alpha: 20, beta: 275, gamma: 1.22, epsilon: 1},
}

// cusp is a term n·Δ^b·δ·Ψ with
//
//	Δ = ((1-τ) + A((δ-1)²)^(1/2β))² + B((δ-1)²)^a,  Ψ = exp(-C(δ-1)² - D(τ-1)²),
//
// which gives the equation its right behaviour around the critical point.
type cusp struct{ n, a, b, beta, A, B, C, D float64 }

// cusps are the terms 40 to 42 of Span & Wagner (1996), Table 31.
var cusps = [3]cusp{
	{n: -0.66642276540751, a: 3.5, b: 0.875, beta: 0.3, A: 0.7, B: 0.3, C: 10, D: 275},
	{n: 0.72608632349897, a: 3.5, b: 0.925, beta: 0.3, A: 0.7, B: 0.3, C: 10, D: 275},
	{n: 0.055068668612842, a: 3, b: 0.875, beta: 0.3, A: 0.7, B: 1, C: 12.5, D: 275},
}

// ancillary is one a·(1-T/Tc)^t of the paper's explicit saturation equations.
type ancillary struct{ a, t float64 }

var (
	// Eq. (3.13): ln(p/pc) = (Tc/T)·Σ.
	vapourPressureTerms = []ancillary{{-7.0602087, 1}, {1.9391218, 1.5}, {-1.6463597, 2}, {-3.2995634, 4}}
	// Section 3.6: ln(ρ'/ρc) = Σ.
	liquidDensityTerms = []ancillary{{1.9245108, 0.34}, {-0.62385555, 0.5}, {-0.32731127, 10. / 6}, {0.39245142, 11. / 6}}
	// Section 3.7: ln(ρ"/ρc) = Σ.
	vapourDensityTerms = []ancillary{{-1.7074879, 0.34}, {-0.8227467, 0.5}, {-4.6008549, 1}, {-10.111178, 7. / 3}, {-29.742252, 14. / 3}}
)
