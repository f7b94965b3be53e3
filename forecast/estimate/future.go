package estimate

import "math"

// factor is the lower triangle of a Cholesky factor of the covariance of (μ, x, M); the offset is not needed to look ahead.
type factor struct{ uu, xu, xx, mu, mx, mm float64 }

func cholesky(g *gauss) (l factor) {
	l.uu = math.Sqrt(math.Max(g.uu, 1e-12))
	l.xu = g.ux / l.uu
	l.xx = math.Sqrt(math.Max(g.xx-l.xu*l.xu, 1e-12))
	l.mu = g.mu / l.uu
	l.mx = (g.mx - l.mu*l.xu) / l.xx
	l.mm = math.Sqrt(math.Max(g.mm-l.mu*l.mu-l.mx*l.mx, 1e-6))
	return l
}

// present is one draw of the state.
type present struct{ m, u, x float64 }

func (l *factor) draw(g *gauss, z0, z1, z2 float64) present {
	return present{
		u: g.u + l.uu*z0,
		x: g.x + l.xu*z0 + l.xx*z1,
		m: g.m + l.mu*z0 + l.mx*z1 + l.mm*z2,
	}
}

// alive redraws a net gas below heel from between it and most, given the rest of the draw: nobody has said that the cylinder ran dry.
func (l *factor) alive(p *present, z2, heel, most float64) {
	n := Normal{p.m - l.mm*z2, l.mm}
	n.Mean = max(n.Mean, heel-4*l.mm) // further below, the rest of the draw cannot be right either
	lo, hi := below(heel, n), below(most, n)
	p.m = n.Mean + l.mm*normalQuantile(math.Min(lo+(hi-lo)*below(z2, Normal{0, 1}), 1-1e-12))
}

// future walks one draw forward.
type future struct {
	r            rng
	tab          *tables
	steps        []step
	hab          *habits
	loss, lossSD float64
	back         float64 // days until those who said they are away return; <=0: nothing said
}

// need is the operational use (g) after which served lumps of variance-to-mean phi have taken m: m plus half a lump, with
// variance φ·m, as a Wilson-Hilferty gamma so that it cannot be negative.
func need(m, phi, z float64) float64 {
	if m <= 0 {
		return 0
	}
	k := m/phi + 0.5
	c := 1 - 1/(9*k) + z/(3*math.Sqrt(k))
	return math.Max(phi*k*c*c*c, 0)
}

// gauss is one standard normal.
func (f *future) gauss() float64 { return f.tab.normal[f.r.next()%tableSize] }

// wait is one exponential of mean 1.
func (f *future) wait() float64 { return f.tab.wait[f.r.next()%tableSize] }

// walk returns the days until liquid-dry and run-out, +Inf beyond the horizon.
func (f *future) walk(nd *node, tr *transitions, k mode, p present, z, heel, dry float64) (tDry, tOut float64) {
	toDry, toOut := need(p.m-dry, nd.phi, z), need(p.m-heel, nd.phi, z)
	loss := 0.0
	if f.loss > 0 {
		loss = math.Max(f.loss+f.lossSD*f.gauss(), 0)
	}
	awayFrom, awayTo := f.firstAway(k)
	nextStep := f.wait() / f.hab.step
	tDry = math.Inf(1)
	if toDry <= 0 {
		tDry = 0
	}
	if toOut <= 0 {
		return tDry, 0
	}
	sum, change := 0.0, 0.0 // used so far; what μ has changed by
	for i := range f.steps {
		s, c := &f.steps[i], &tr.at[i]
		end := s.t + s.dt
		luck := f.r.next()
		z1, z2 := f.tab.normal[luck%tableSize], f.tab.normal[luck>>tableBits%tableSize]
		x1 := c.a*p.x + c.q*z1
		level := exp(p.u + change + (p.x+x1)*c.mean + c.spread*z2 + c.within)
		w := s.w
		for awayTo <= s.t {
			awayFrom = s.t + f.wait()/f.hab.leave
			awayTo = awayFrom + f.wait()/f.hab.back
		}
		if awayFrom < end {
			w *= 1 - (math.Min(end, awayTo)-math.Max(s.t, awayFrom))/s.dt
		}
		use := w*level + loss*s.dt
		next := sum + use
		if next >= toDry && math.IsInf(tDry, 1) {
			tDry = s.t + s.dt*(toDry-sum)/use
		}
		if next >= toOut {
			return tDry, s.t + s.dt*(toOut-sum)/use
		}
		sum, p.x = next, x1
		change *= s.fade
		if luck>>63 == 0 { // a coin does for the normal when the steps are many
			change += s.wander
		} else {
			change -= s.wander
		}
		if nextStep < end {
			change += math.Sqrt(f.hab.stepVar) * f.gauss()
			nextStep += f.wait() / f.hab.step
		}
	}
	return tDry, math.Inf(1)
}

// transition moves x over one step, given the parameters: x' = a·x + q·z; the mean of exp(x) over the step is
// exp((x+x')·mean + spread·z' + within). Given both ends, the average of x is Gaussian with mean (x+x')·tanh(h/2)/h and variance
// 2σ²(h-2·tanh(h/2))/h², h = dt/τ; what x varies around that average counts by its mean effect.
type transition struct{ a, q, mean, spread, within float64 }

// transitions are those of one set of parameters for all steps.
type transitions struct {
	of parameters
	at []transition
}

// prepare computes the transitions of a set of parameters unless they are there.
func (tr *transitions) prepare(l parameters, steps []step) {
	if tr.of == l {
		return
	}
	if tr.at == nil {
		tr.at = make([]transition, len(steps))
	}
	tr.of = l
	for i, s := range steps {
		h := s.dt / l.tau
		a, th, s2 := math.Exp(-h), math.Tanh(h/2), l.sd*l.sd
		v := 2 * s2 * math.Max(h-2*th, 0) / (h * h)
		tr.at[i] = transition{
			a: a, q: l.sd * math.Sqrt(1-a*a), mean: th / h,
			spread: math.Sqrt(v), within: math.Max(s2*h/(3+h)-v, 0) / 2,
		}
	}
}

// firstAway is the first time away of a draw in mode k.
func (f *future) firstAway(k mode) (from, to float64) {
	switch {
	case f.back > 0:
		return 0, f.back
	case k == away:
		return 0, f.wait() / f.hab.back
	}
	from = f.wait() / f.hab.leave
	return from, from + f.wait()/f.hab.back
}
