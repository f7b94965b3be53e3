package estimate

import "math"

// Priors about use. Those marked "metered" are recomputed by prior_test.go from homes whose water or power was metered: nothing is
// published about how much gas homes draw.
const (
	lawSD    = 0.31   // of ln(use): weekly use about its mean; metered
	lawTau   = 35     // days its deviation lasts; metered
	wanderSD = 0.012  // of ln(use) in √day, for good; metered
	scatter  = 0.32   // of a day about the level and its weekday, relative to the level; metered
	weekSD   = 0.25   // of a weekday's factor: the most weekly of the metered homes
	weekend  = 1.1    // a day of the weekend over one of the week; metered
	leave    = 0.0044 // spells a day of two days or more that nobody is there; metered
	stay     = 5.6    // days such a spell lasts; metered
	dayStay  = 10     // days of the spell that a day away lies in; metered. It is what decides whether a quiet week is one away
	stayDays = 125    // days of watching that this prior is worth, from how much the homes differ; metered

	// A litre at 3.5 volumes of CO2, 1.977 g/L each at 0 °C and 1 atm (serving/solubility.go): what a serving is, when nothing is known.
	serving   = 7   // g
	servingSD = 0.5 // of its logarithm: a third of a litre to a litre and a half

	slowSD   = 0.35
	slowTau  = 200
	gridHalf = 6
)

// A fill lasts between a fortnight, since nobody keeps up more frequent exchanges (common practice, no source), and the five years after which
// the cylinder must be tested before it is filled again (49 CFR 180.209, Table 1, steel cylinders for CO2): these are taken as three
// standard deviations from the middle.
const leastFill, mostFill = 14, 5 * 365.25 // days

// toldSD is the sd of ln(use) when the household told its guess: within a factor of 2.7 in 19 of 20. No source.
const toldSD = 0.5

// defaultHabits: lasting changes of the way of living come about twice a year and change the level by a factor of up to 1.6, mostly. No source;
// rarer ones left four in five of the spans of changing households too narrow (trouble, seeds 801 and 901).
func defaultHabits() habits {
	return habits{
		leave: leave, back: 1 / stay,
		step: 0.006, settle: 1 / 25.0, stepVar: 0.5 * 0.5,
		wander: wanderSD * wanderSD, forget: 1 / 1500.0,
	}
}

// levelPrior is mean and sd of ln(use in g/day). A guess that was told is the mean of the use itself.
func (o *Options) levelPrior() (mean, sd float64) {
	if o.UsePrior > 0 {
		return math.Log(float64(o.UsePrior)) - toldSD*toldSD/2, toldSD
	}
	net := math.Log(math.Max(float64(o.NetFill), 100))
	return net - (math.Log(leastFill)+math.Log(mostFill))/2, math.Log(mostFill/leastFill) / 6
}

// serving is the gas of a serving.
func (o *Options) serving() float64 {
	if o.Serving > 0 {
		return float64(o.Serving)
	}
	return serving
}

// quantile of the standard normal.
func normalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// spreadParameters gives the nodes parameters spread evenly over the prior, by the additive recurrence with the root of x⁴ = x+1
// (Roberts 2018; the attribution from memory).
func (m *mixture) spreadParameters(phi float64) {
	const g = 1.2207440846057596 // root of x⁴ = x+1
	sum := 0.0
	for i := range m.node[:m.n] {
		z := func(k float64) float64 { return normalQuantile(math.Mod(0.5+float64(i+1)/math.Pow(g, k), 1)) }
		z1, z2 := z(1), z(2)
		m.node[i].parameters = parameters{
			sd:  lawSD * math.Exp(0.45*z1),
			tau: lawTau * math.Exp(0.65*z2),
			phi: phi * math.Exp(lumpsSD*z(3)),
		}
		m.node[i].p = 1
		if i%4 == 3 { // a quarter of the nodes: seasons, and levels that wander off for good
			m.node[i].sd, m.node[i].tau = slowSD*math.Exp(0.4*z1), slowTau*math.Exp(0.4*z2)
			m.node[i].p = 1.2
		}
		sum += m.node[i].p
	}
	for i := range m.node[:m.n] {
		m.node[i].p /= sum
	}
}

// lumps is φ of a household that draws servings of size g and whose days scatter by the share cv of its level (g/day) besides.
func lumps(size, cv, level float64) float64 { return size + cv*cv*level }

// start makes a mixture that knows only the prior: nodes spread over the level, and over how its days scatter.
func (o *Options) start(gas, gasVar float64) mixture {
	m := mixture{n: len(scatters) * (2*gridHalf + 1), initial: true}
	mean, sd := o.levelPrior()
	const reach, own = 4.2, 0.55 // nodes span ± reach sd and are own·spacing wide
	offset := o.offsetSD()
	sum := 0.0
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		z := reach * float64(i/len(scatters)-gridHalf) / gridHalf
		days := scatters[i%len(scatters)]
		nd.parameters = parameters{days.sd, days.tau, lumps(o.serving(), days.cv, math.Exp(mean+z*sd)), days.free}
		nd.p = days.share * (math.Exp(-z*z/2) + 0.02*math.Pow(1+z*z/16, -2)) // with a wide shoulder for the unusual
		sum += nd.p
		nd.mu = Normal{mean + z*sd, own * reach / gridHalf * sd}
		g := gauss{m: gas, mm: gasVar, oo: offset * offset}
		g.restart(nd.mu.Mean, nd.mu.SD*nd.mu.SD, nd.sd*nd.sd)
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

// scatters are how days may scatter before it is known: as in the steadiest of the metered homes; as in the median; by spells of some days, for
// people who work in shifts; at weekends, for who is out on other days; and all on one day of seven, for a club. The shares of the last three have no source.
var scatters = [...]struct {
	share, cv, sd, tau float64
	free               bool
}{
	{0.35, 0.24, lawSD, lawTau, false}, {0.35, scatter, lawSD, lawTau, false}, {0.15, 2 * scatter, spellSD, spellTau, false}, {0.15, 2 * scatter, lawSD, lawTau, true},
	{0.05, onceWeekly, lawSD, lawTau, false},
}

// onceWeekly is the standard deviation over the mean of days of which one in seven has all the use: √(7-1).
const onceWeekly = 2.449

// spellSD and spellTau are sd and days of ln(use) in spells. No source: days of a third and of three times the use of the week's are one in six.
const spellSD, spellTau = 0.7, 4

// lumpsSD is the sd of ln(φ) once the level is known.
const lumpsSD = 0.5

// otherLevel is how often a day a level that is not known yet becomes any other: people move into an empty flat. So rarely that it widens nothing that is told; some days
// of another use outweigh it. Ours.
const otherLevel = 1e-5

// settled reports whether the level is known well enough to ask about the parameters.
func (m *mixture) settled() bool {
	_, v, _ := m.level()
	return v < 1.5*lawSD*lawSD // wandering alone makes it lawSD²
}

// branch replaces nodes that differ in level by nodes that differ in parameters, all with what pooled says of the gas and the level, away with probability pAway, and lumps
// of around phi.
func (m *mixture) branch(o *Options, pooled gauss, pAway, phi float64) {
	lam, v := pooled.level()
	mean, sd := o.levelPrior()
	s0 := sd * sd
	m.n, m.initial = maxNodes, false
	m.spreadParameters(phi)
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
