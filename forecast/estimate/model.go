package estimate

import "math"

// The model, with time t in days.
//
//	net gas          dM = -w(t)·exp(μ+x)·dt - served lumps - ℓ·dt          g
//	scale offset     do = √qo·dW                                          g, gross = house + M + o + noise
//	long-run level   μ constant but for rare lasting steps                 ln(g/day)
//	deviation        dx = -x/τ·dt + σ·√(2/τ)·dW                            Ornstein-Uhlenbeck, stationary sd σ
//
// w(t) is the weekday and hour-of-day pattern (mean 1), the lumps make the use over a span of mean E have variance
// φ·E (compound Poisson: φ = E[serving²]/E[serving]), and ℓ is a loss told from outside.
//
// The product w·exp(λ), λ = μ+x, is kept Gaussian by matching moments exactly (Stein's lemma for the
// covariance, the log-normal's mean and variance), not by linearising.

// parameters is one hypothesis about the household that does not change.
type parameters struct {
	sd, tau float64 // of x: stationary sd, correlation time in days
	phi     float64 // g, variance over mean of the use
	free    bool    // draws mostly at weekends; asked only until the level is known
}

// gauss is a Gaussian over (M, o, μ, x) and, once servings are logged, κ: means and the upper triangle of the covariance.
type gauss struct {
	m, o, u, x                             float64
	mm, mo, mu, mx, oo, ou, ox, uu, ux, xx float64

	k                  float64 // κ, see logged.go
	mk, ok, uk, xk, kk float64 // all 0 while nothing is logged
}

// wander lets x move and μ and o diffuse over the step: a = exp(-dt/τ), qx = σ²(1-a²), qu and qo in units² per step.
func (g *gauss) wander(a, qx, qu, qo float64) {
	g.x *= a
	g.mx *= a
	g.ox *= a
	g.ux *= a
	g.xx = a*a*g.xx + qx
	g.xk *= a
	g.uu += qu
	g.oo += qo
}

// restart makes μ one of mean u and variance uu and x one of mean 0 and variance xx, of which nothing else tells.
func (g *gauss) restart(u, uu, xx float64) {
	g.u, g.x = u, 0
	g.uu, g.ux, g.xx = uu, 0, xx
	g.mu, g.mx, g.ou, g.ox, g.uk, g.xk = 0, 0, 0, 0, 0, 0
}

// logNormal is mean and variance of the logarithm of a log-normal of that mean and standard deviation.
func logNormal(x Normal) (mean, variance float64) {
	v := math.Log1p(x.SD * x.SD / (x.Mean * x.Mean))
	return math.Log(x.Mean) - v/2, v
}

// maxLogVar bounds the log-level variance that enters the log-normal moments; beyond it the Gaussian is no use anyway.
const maxLogVar = 1.2

// level is mean and variance of λ = μ+x.
func (g *gauss) level() (mean, variance float64) {
	return g.u + g.x, max(g.uu+g.xx+2*g.ux, 0)
}

// draw takes the use of w effective days out of M; patVar is the relative variance of w.
func (g *gauss) draw(w, phi, patVar float64) {
	mean, v := g.level()
	v = min(v, maxLogVar)
	e := w * exp(min(mean+v/2, mostLevel))
	cm, co, cu, cx := g.mu+g.mx, g.ou+g.ox, g.uu+g.ux, g.ux+g.xx
	e2 := e * e
	varU := e2*(math.Expm1(v)+patVar) + phi*e
	g.m -= e
	g.mm += varU - 2*e*cm
	g.mo -= e * co
	g.mu -= e * cu
	g.mx -= e * cx
	g.mk -= e * (g.uk + g.xk)
	g.mm = min(max(g.mm, 1e-6), 1e12)
}

// observe conditions on y = M + o + noise of variance r and returns the likelihood (without the constant).
// A reading that stands far out counts as noisier than it said (Student-t with 12 degrees of freedom in the likelihood, its
// noise grown until it stands out by no more than outlier sigmas).
func (g *gauss) observe(y, r float64) float64 {
	const outlier2 = 9
	e := y - g.m - g.o
	cm, co, cu, cx := g.mm+g.mo, g.mo+g.oo, g.mu+g.ou, g.mx+g.ox
	p := max(cm+co, 0)
	s := p + r
	z2 := e * e / s
	l := student12(z2, s)
	if z2 > outlier2 {
		s = p + r*z2/outlier2
	}
	g.condition(covariances{cm, co, cu, cx, g.mk + g.ok}, s, e)
	g.tidy()
	return l
}

// student12 is the density of Student's t with 12 degrees of freedom and squared scale s at z2 = e²/s, without its constant:
// s^(-1/2)·(1+z2/12)^(-13/2), by products instead of logarithms. It is never 0: beyond 10¹⁰ sigmas all is alike.
func student12(z2, s float64) float64 {
	q := 1 + min(z2, 1e20)/12
	q4 := q * q * q * q
	return 1 / math.Sqrt(s*q*q4*q4*q4)
}

// student6 is the same with 6 degrees of freedom: s^(-1/2)·(1+z2/6)^(-7/2).
func student6(z2, s float64) float64 {
	q := 1 + min(z2, 1e20)/6
	q2 := q * q
	return 1 / math.Sqrt(s*q*q2*q2*q2)
}

// leastLevel and mostLevel bound ln(use): 10 mg and 100 kg a day.
const leastLevel, mostLevel = -4.6, 11.5

// tidy keeps rounding and absurd readings from making a state that is none.
func (g *gauss) tidy() {
	g.u += max(leastLevel-g.u-g.x, 0) + min(mostLevel-g.u-g.x, 0)
	g.mm, g.oo = max(g.mm, 1e-6), max(g.oo, 1e-6)
	g.uu, g.xx = max(g.uu, 1e-9), max(g.xx, 1e-9)
	g.mo, g.mu, g.mx = within(g.mo, g.mm, g.oo), within(g.mu, g.mm, g.uu), within(g.mx, g.mm, g.xx)
	g.ou, g.ox, g.ux = within(g.ou, g.oo, g.uu), within(g.ox, g.oo, g.xx), within(g.ux, g.uu, g.xx)
	if g.kk != 0 {
		g.kk = max(g.kk, 1e-6)
		g.mk, g.ok = within(g.mk, g.mm, g.kk), within(g.ok, g.oo, g.kk)
		g.uk, g.xk = within(g.uk, g.uu, g.kk), within(g.xk, g.xx, g.kk)
	}
}

// within is a covariance brought inside what its variances allow.
func within(c, va, vb float64) float64 {
	if c*c <= va*vb {
		return c
	}
	return math.Copysign(math.Sqrt(va*vb), c)
}

// covariances are those of the state with something observed.
type covariances struct{ m, o, u, x, k float64 }

// condition takes in something observed that was e off what was expected, with variance s: the gain c/s times e is added to the
// means, the gain times cᵀ taken from the covariance.
func (g *gauss) condition(c covariances, s, e float64) {
	km, ko, ku, kx := c.m/s, c.o/s, c.u/s, c.x/s
	g.m += km * e
	g.o += ko * e
	g.u += ku * e
	g.x += kx * e
	g.mm -= km * c.m
	g.mo -= km * c.o
	g.mu -= km * c.u
	g.mx -= km * c.x
	g.oo -= ko * c.o
	g.ou -= ko * c.u
	g.ox -= ko * c.x
	g.uu -= ku * c.u
	g.ux -= ku * c.x
	g.xx -= kx * c.x
	if g.kk == 0 {
		return
	}
	kk := c.k / s
	g.k += kk * e
	g.mk -= km * c.k
	g.ok -= ko * c.k
	g.uk -= ku * c.k
	g.xk -= kx * c.k
	g.kk -= kk * c.k
}

// merge is the Gaussian with the moments of the mixture wa·a + wb·b, wa+wb = 1.
func merge(wa float64, a *gauss, wb float64, b *gauss) gauss {
	dm, do, du, dx := a.m-b.m, a.o-b.o, a.u-b.u, a.x-b.x
	w := wa * wb
	mix := func(p, q float64) float64 { return wa*p + wb*q }
	cov := func(p, q, d, f float64) float64 { return mix(p, q) + w*d*f }
	c := gauss{
		m: mix(a.m, b.m), o: mix(a.o, b.o), u: mix(a.u, b.u), x: mix(a.x, b.x),
		mm: cov(a.mm, b.mm, dm, dm), mo: cov(a.mo, b.mo, dm, do), mu: cov(a.mu, b.mu, dm, du), mx: cov(a.mx, b.mx, dm, dx),
		oo: cov(a.oo, b.oo, do, do), ou: cov(a.ou, b.ou, do, du), ox: cov(a.ox, b.ox, do, dx),
		uu: cov(a.uu, b.uu, du, du), ux: cov(a.ux, b.ux, du, dx), xx: cov(a.xx, b.xx, dx, dx),
	}
	if a.kk == 0 && b.kk == 0 {
		return c
	}
	dk := a.k - b.k
	c.k, c.kk = mix(a.k, b.k), cov(a.kk, b.kk, dk, dk)
	c.mk, c.ok, c.uk, c.xk = cov(a.mk, b.mk, dm, dk), cov(a.ok, b.ok, do, dk), cov(a.uk, b.uk, du, dk), cov(a.xk, b.xk, dx, dk)
	return c
}
