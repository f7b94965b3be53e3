package estimate

import "math"

// People log servings, but only part of what they make, and nobody knows which part. So logged servings alone never say how much
// was used; once weighings have shown how many are logged per gram, they say how the use goes between the weighings:
//
//	ln(n/w) = κ + λ + noise,  variance 1.3/n + 0.15² + that of w
//
// n is the number logged over a span of w effective days (pattern included), λ = μ+x the level of use (model.go), κ the logarithm
// of servings logged per gram used: the share logged over the grams of a serving. κ is learned with the rest of the state, as a
// random walk, for habits of logging change. What luck made of the use is in the log as well: a serving more that is logged is a
// serving more that is gone.
//
// Two things keep it honest. Silence is no evidence: a span counts only if both its ends are logged and lie no further apart than this
// household's entries usually do (diary), so who stops logging is judged by weighings alone from then on. And a count is news only of a
// time that was not weighed: what a scale has seen is known better already, and then the count teaches κ alone.
const (
	logShare   = 0.6  // of what is made, median of the prior
	logShareSD = 0.6  // of its logarithm
	logToldSD  = 0.15 // of its logarithm when it is known
	logDrift   = 0.05 // sd of what κ moves in √day
	logAnew    = 0.4  // sd of what it moves when logging is taken up again
	logScatter = 0.15 // of the share from one span to the next
	logLumps   = 1.3  // variance over mean of the count
	logEnough  = 6    // servings that make a span worth looking at
	logFew     = 3    // when a weighing closes the span, or a forecast is asked for
	mostLogged = 1000 // servings in a span
)

// diary gathers logged servings into spans.
type diary struct {
	n        float64 // servings since from
	from, to float64 // s: the entry before the span's first, its last entry
	gap      float64 // s, usual time between entries
	seen     int     // entries ever
	anew     bool    // the span is the first since logging was taken up
}

// The time between entries, s: assumed before there are any, and at most.
const usualGap, longestGap = secondsDay, 8 * secondsDay

// add takes n servings logged at t. After a silence the share logged may be another, and what was made meanwhile is unknown: a new
// span begins.
func (d *diary) add(t, n float64) {
	d.seen++
	gap := t - d.to
	if d.seen == 1 {
		d.gap, gap = usualGap, math.Inf(1)
	}
	if gap > max(4*d.gap, 2*secondsDay) {
		d.n, d.from, d.to, d.anew = 0, t, t, true
		if d.seen > 1 {
			d.gap = min(d.gap+(gap-d.gap)/4, longestGap)
		}
		return
	}
	d.n = min(d.n+n, mostLogged)
	if gap > 0 {
		d.gap += (gap - d.gap) / 12
		d.to = t
	}
}

// span is what was gathered, if it is at least least; the next one begins.
func (d *diary) span(least float64) (e entry, ok bool) {
	if d.n < least || d.to-d.from < secondsDay/2 {
		return entry{}, false
	}
	e = entry{t: d.to, kind: logging, y: d.n, from: d.from}
	if d.anew {
		e.r = logAnew * logAnew
	}
	d.n, d.from, d.anew = 0, d.to, false
	return e, true
}

// log takes a span of logged servings in.
func (c *core) log(e *entry, o *Options, rep *reports, zone func(float64) float64) {
	from := e.from
	for i := range rep.gone[:rep.ng] {
		if a := rep.gone[i]; a.at < e.t && from < a.until {
			from = min(a.until, e.t)
		}
	}
	z := zone(e.t)
	w, relVar := c.pat.effective(from+z, e.t+z, &c.pat.day)
	if w < 0.2 {
		return
	}
	unseen := min(max((e.t-max(c.lastT, c.filled))/(e.t-from), 0), 1)
	n := count{n: e.y, w: w, relVar: relVar, unseen: unseen}
	if !c.logged {
		c.logged = true
		c.mix.expectLogs(o, n)
	} else {
		c.mix.driftLogs(e.r + logDrift*logDrift*max(e.t-c.lastLog, 0)/secondsDay)
	}
	c.lastLog = e.t
	c.mix.logged(n)
}

// expectLogs makes room for κ at the first count c. Few logged servings tell nothing of the use before it is known which share is logged, so
// κ starts no higher than that count; many tell that the use is no less.
func (m *mixture) expectLogs(o *Options, c count) {
	size, sd := o.serving(), servingSD
	if o.Serving > 0 {
		sd = logToldSD
	}
	for i := range m.node[:m.n] {
		for k := range m.node[i].g {
			g := &m.node[i].g[k]
			level, _ := g.level()
			g.k, g.kk = min(math.Log(logShare/size), math.Log(c.n/c.w)-level), sd*sd+logShareSD*logShareSD
		}
	}
}

// driftLogs lets κ have moved.
func (m *mixture) driftLogs(variance float64) {
	for i := range m.node[:m.n] {
		for k := range m.node[i].g {
			m.node[i].g[k].kk += variance
		}
	}
}

// count is a number of servings logged over w effective days of relative variance relVar; unseen is the share of that time since the last
// weighing.
type count struct{ n, w, relVar, unseen float64 }

// noise is the variance of ln n given the level.
func (c *count) noise() float64 { return logLumps/c.n + logScatter*logScatter + c.relVar }

// goneLog is by how much a log speaks against nobody being there.
const goneLog = 0.018

// logged conditions every hypothesis on a count.
func (m *mixture) logged(c count) {
	if c.unseen < 0.5 {
		for i := range m.node[:m.n] {
			for k := range m.node[i].g {
				m.node[i].g[k].learnLogging(c)
			}
		}
		return
	}
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		nd.w[home], nd.w[moved], nd.w[away] = nd.served(c)
	}
	m.normalise()
}

// served conditions the modes of one node on a count and returns their new weights, not yet normalised.
func (n *node) served(c count) (atHome, afterMove, gone float64) {
	before := n.g[home]
	gone = n.w[away] * goneLog * before.serve(c, n.phi)
	return n.w[home] * n.g[home].serve(c, n.phi), n.w[moved] * n.g[moved].serve(c, n.phi), gone
}

// serve conditions on a count, phi being the lumpiness of use, and returns the likelihood (without the constant).
func (g *gauss) serve(c count, phi float64) float64 {
	const outlier2 = 4
	level, v := g.level()
	use := c.w * exp(min(level+min(v, maxLogVar)/2, mostLevel))
	serving := min(phi, exp(-g.k)) // g, for no more can be logged than is made
	lumps := c.unseen * (serving + c.relVar*use)
	e := math.Log(c.n/c.w) - level - g.k
	cov := covariances{
		o: g.ou + g.ox + g.ok, u: g.uu + g.ux + g.uk, x: g.ux + g.xx + g.xk, k: g.uk + g.xk + g.kk,
	}
	p := max(cov.u+cov.x+cov.k, 0)
	r := c.noise()
	s := p + r
	z2 := e * e / s
	l := student6(z2, s)
	if z2 > outlier2 {
		s = p + r*z2/outlier2
	}
	cov.m = within(g.mu+g.mx+g.mk-lumps, g.mm, s)
	g.condition(cov, s, e)
	g.tidy()
	return l
}

// learnLogging learns κ alone from a count over a time that was weighed (the gain of a Schmidt-Kalman filter: the rest of the state is
// considered, not moved): the luck in that count is the luck in the weighings, which the rest has learned from already.
func (g *gauss) learnLogging(c count) {
	level, v := g.level()
	ck := g.uk + g.xk
	s := max(v+2*ck+g.kk, 0) + c.noise()
	gain := (ck + g.kk) / s
	g.k += gain * max(-3, min(math.Log(c.n/c.w)-level-g.k, 3))
	g.mk -= gain * (g.mu + g.mx + g.mk)
	g.ok -= gain * (g.ou + g.ox + g.ok)
	g.uk -= gain * (g.uu + g.ux + g.uk)
	g.xk -= gain * (g.ux + g.xx + g.xk)
	g.kk -= gain * (ck + g.kk)
	g.tidy()
}
