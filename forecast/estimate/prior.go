package estimate

import "math"

// Priors. They are meant for households at large and come from no single data set.
const (
	offsetSD  = 70    // g, by which stamped tare and fittings are off
	fillMean  = 0.986 // of the nominal net mass that is really in a fresh cylinder
	fillSD    = 0.0095
	levelSD   = 0.75 // of ln(use) when the household said nothing
	toldSD    = 0.5  // of ln(use) when it did
	fillDays  = 145  // a fill lasts, median, when the household said nothing
	lawSD     = 0.31 // of ln(use), about what the weekly use of metered homes scatters by (prior_test.go)
	lawTau    = 35
	lawPhi    = 9 // g
	slowSD    = 0.35
	slowTau   = 200
	scoutHalf = 6
)

func defaultHabits() habits {
	return habits{
		leave: 0.0045, back: 1 / 9.0,
		step: 0.0015, settle: 1 / 25.0, stepVar: 0.5 * 0.5,
		party: 0.008, drift: 2 * 2, wander: 0.012 * 0.012, forget: 1 / 1500.0,
	}
}

// levelPrior is mean and sd of ln(use in g/day).
func (o *Options) levelPrior() (mean, sd float64) {
	if o.UsePrior > 0 {
		return math.Log(float64(o.UsePrior)), toldSD
	}
	return math.Log(math.Max(float64(o.NetFill), 100) / fillDays), levelSD
}

// phiPrior is the median lumpiness in g.
func (o *Options) phiPrior() float64 {
	if o.Serving > 0 {
		return 1.15 * float64(o.Serving)
	}
	return lawPhi
}

// quantile of the standard normal.
func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// laws fills the nodes with laws spread evenly over the prior, by the additive recurrence with the root of x⁴ = x+1
// (Roberts 2018; the attribution from memory). A wider spread was measured to be no sharper.
func (m *mixture) laws(phi float64) {
	const g = 1.2207440846057596 // root of x⁴ = x+1
	sum := 0.0
	for i := range m.node[:m.n] {
		u := func(a float64) float64 { return math.Mod(0.5+a*float64(i+1), 1) }
		z1, z2, z3 := normalQuantile(u(1/g)), normalQuantile(u(1/(g*g))), normalQuantile(u(1/(g*g*g)))
		m.node[i].law = law{
			sd:  lawSD * math.Exp(0.45*z1),
			tau: lawTau * math.Exp(0.65*z2),
			phi: phi * math.Exp(0.5*z3),
		}
		m.node[i].p = 1
		if i%4 == 3 { // a quarter of the laws: seasons, and levels that wander off for good
			m.node[i].sd, m.node[i].tau = slowSD*math.Exp(0.4*z1), slowTau*math.Exp(0.4*z2)
			m.node[i].p = 1.2
		}
		sum += m.node[i].p
	}
	for i := range m.node[:m.n] {
		m.node[i].p /= sum
	}
}

// start makes a mixture that knows only the prior: nodes spread over the level.
func (o *Options) start(gas, gasVar float64) mixture {
	m := mixture{n: 2*scoutHalf + 1, scout: true}
	mean, sd := o.levelPrior()
	const reach, own = 4.2, 0.55 // nodes span ± reach sd and are own·spacing wide
	sum := 0.0
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		z := reach * float64(i-scoutHalf) / scoutHalf
		width := own * reach / scoutHalf * sd
		nd.law = law{lawSD, lawTau, o.phiPrior()}
		nd.p = math.Exp(-z*z/2) + 0.02*math.Pow(1+z*z/16, -2) // with a wide shoulder for the unusual
		sum += nd.p
		g := gauss{m: gas, u: mean + z*sd, mm: gasVar, oo: offsetSD * offsetSD, uu: width * width, xx: lawSD * lawSD}
		for k := range nd.g {
			nd.g[k] = g
		}
		nd.g[moved].uu += 0.25
	}
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		nd.p /= sum
		nd.w[home], nd.w[moved], nd.w[away] = 0.96*nd.p, 0.005*nd.p, 0.035*nd.p
	}
	return m
}

// settled reports whether the level is known well enough to ask about the law.
func (m *mixture) settled() bool {
	_, v, _ := m.level()
	return v < 1.5*lawSD*lawSD // wandering alone makes it lawSD²
}

// unfold replaces nodes that differ in level by nodes that differ in law, all with the level found.
func (m *mixture) unfold(o *Options) {
	pooled, pAway := m.pool()
	lam, v := pooled.level()
	mean, sd := o.levelPrior()
	s0 := sd * sd
	m.n, m.scout = maxNodes, false
	m.laws(o.phiPrior())
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		sx := nd.sd * nd.sd
		b, rest := s0/(s0+sx), s0*sx/(s0+sx)
		g := pooled
		cm, co := pooled.mu+pooled.mx, pooled.ou+pooled.ox
		g.u = mean + b*(lam-mean)
		g.x = lam - g.u
		g.mu, g.mx, g.ou, g.ox = b*cm, (1-b)*cm, b*co, (1-b)*co
		ck := pooled.uk + pooled.xk
		g.uk, g.xk = b*ck, (1-b)*ck
		g.uu, g.xx, g.ux = b*b*v+rest, (1-b)*(1-b)*v+rest, b*(1-b)*v-rest
		for k := range nd.g {
			nd.g[k] = g
		}
		nd.g[moved].uu += 0.05
		nd.w[home], nd.w[moved], nd.w[away] = nd.p*(1-pAway)*0.99, nd.p*(1-pAway)*0.01, nd.p*pAway
	}
}
