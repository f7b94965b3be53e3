package estimate

import "math"

// mode is what the household is doing.
type mode int

const (
	home  mode = iota
	moved      // home, and something lasting changed in the last weeks: the long-run level is open again
	away       // nobody draws
	modes
)

// node is one set of parameters with a Gaussian and a weight for each mode.
type node struct {
	parameters
	g   [modes]gauss
	w   [modes]float64
	p   float64 // prior weight of the parameters
	mu  Normal  // prior of μ, while the level is not known
	due float64 // g, use to be expected at home since the last reading
}

const maxNodes = 72

// mixture is all hypotheses; weights sum to 1. It holds no pointers, so assigning it copies it.
type mixture struct {
	node    [maxNodes]node
	n       int
	initial bool // the level is not known yet: nodes differ in level, not in parameters
}

// habits are the rates of change between modes, per day, and their sizes.
type habits struct {
	leave, back float64 // away spells begin, end
	step        float64 // lasting change of the level
	settle      float64 // a lasting change is over
	stepVar     float64 // variance of a lasting change of μ
	wander      float64 // qu, variance of μ per day
	forget      float64 // the parameters themselves change
}

// interval is a stretch of time the mixture is moved over.
type interval struct {
	dt     float64 // days
	w      float64 // effective days of use
	free   float64 // the same for those who draw at weekends, while the level is not known
	patVar float64 // relative variance of w
	drift  float64 // qo, g²
	out    float64 // g lost, known not to be use
	outVar float64
	forced float64 // probability that nobody is home because they said so; <0: nothing said
	ended  bool    // they said they would be back by now
}

// advance moves every hypothesis over s.
func (m *mixture) advance(s interval, h *habits, first bool) {
	pa, pb := 1-exp(-h.leave*s.dt), 1-exp(-s.dt/dayStay)
	pj, ps := 1-exp(-h.step*s.dt), 1-exp(-h.settle*s.dt)
	if s.forced >= 0 {
		pb = 0.01 * s.dt
		if first {
			pa = s.forced
		}
	} else if s.ended {
		pb = 0.9
	}
	forget := h.forget
	if m.initial {
		forget = otherLevel
	}
	keep := exp(-forget * s.dt)
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		nd.change(pa, pb, pj, ps, h.stepVar)
		l, v := nd.g[home].level()
		nd.due += s.effective(nd) * exp(min(l+min(v, maxLogVar)/2, mostLevel))
		a := exp(-s.dt / nd.tau)
		qx := nd.sd * nd.sd * (1 - a*a)
		for k := range nd.g {
			g := &nd.g[k]
			g.wander(a, qx, h.wander*s.dt, s.drift)
			if w := s.effective(nd); mode(k) != away && w > 0 {
				g.draw(w, nd.phi, s.patVar)
			}
			g.m -= s.out
			g.mm += s.outVar
		}
		for k := range nd.w {
			nd.w[k] *= keep
		}
		anew := nd.g[home]
		if m.initial {
			anew.restart(nd.mu.Mean, nd.mu.SD*nd.mu.SD, nd.sd*nd.sd)
		}
		nd.g[home], nd.w[home] = mergeWeighted(&nd.g[home], nd.w[home], &anew, (1-keep)*nd.p)
	}
}

// effective are the days of use of a node.
func (s *interval) effective(nd *node) float64 {
	if nd.free {
		return s.free
	}
	return s.w
}

// change moves weight between the modes and merges what comes together.
func (n *node) change(pa, pb, pj, ps, stepVar float64) {
	h, j, a := n.w[home], n.w[moved], n.w[away]
	hj, ha := h*pj, h*pa
	jh, ja := j*ps, j*pa
	ah := a * pb
	stepped := n.g[home]
	stepped.uu += stepVar
	g := n.g
	n.g[home], n.w[home] = mergeWeighted(&g[home], h-hj-ha, &g[moved], jh)
	n.g[home], n.w[home] = mergeWeighted(&n.g[home], n.w[home], &g[away], ah)
	n.g[moved], n.w[moved] = mergeWeighted(&g[moved], j-jh-ja, &stepped, hj)
	n.g[away], n.w[away] = mergeWeighted(&g[away], a-ah, &g[home], ha)
	n.g[away], n.w[away] = mergeWeighted(&n.g[away], n.w[away], &g[moved], ja)
}

// mergeWeighted merges two weighted Gaussians and adds their weights.
func mergeWeighted(a *gauss, wa float64, b *gauss, wb float64) (gauss, float64) {
	w := wa + wb
	switch {
	case wb <= 1e-12*w || w <= 0:
		return *a, max(w, 0)
	case wa <= 1e-12*w:
		return *b, w
	}
	return merge(wa/w, a, wb/w, b), w
}

// observe conditions every hypothesis on a reading of y = M + o + noise and returns the probability that the reading is right.
func (m *mixture) observe(s measurement) (right float64) {
	all := 0.0
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		var l, ok [modes]float64
		for k, w := range nd.w {
			if w > 0 {
				l[k], ok[k] = nd.g[k].update(s)
			}
		}
		nd.idle(&l, &ok)
		for k := range nd.w {
			right += nd.w[k] * ok[k]
			nd.w[k] *= l[k]
			all += nd.w[k]
		}
	}
	m.normalise()
	return right / all
}

// idle takes into the likelihoods l, and into what of them speaks for the reading being right, that who is home may have drawn nothing since the last reading: then it
// is as likely as if they were away. A Gaussian of the use is flat where lumps are large, so that a quiet day would always speak for absence.
func (n *node) idle(l, ok *[modes]float64) {
	if n.w[away] > 0 {
		nothing := exp(-lumpRate * n.due / n.phi)
		for _, k := range [...]mode{home, moved} {
			l[k] += nothing * (l[away] - l[k])
			ok[k] += nothing * (ok[away] - ok[k])
		}
	}
	n.due = 0
}

// lumpRate is how many lumps come in a use of φ: lumps of exponentially distributed size are φ/2 in the mean, and about half of φ is the scatter of days. Ours.
const lumpRate = 4

// normalise makes the weights sum to 1.
func (m *mixture) normalise() {
	sum := 0.0
	for i := range m.node[:m.n] {
		for _, w := range m.node[i].w {
			sum += w
		}
	}
	for i := range m.node[:m.n] {
		for k := range m.node[i].w {
			m.node[i].w[k] /= sum
		}
	}
}

// each calls f for every hypothesis that counts.
func (m *mixture) each(f func(nd *node, k mode, w float64)) {
	for i := range m.node[:m.n] {
		for k, w := range m.node[i].w {
			if w > 1e-12 {
				f(&m.node[i], mode(k), w)
			}
		}
	}
}

// level is mean and variance of λ over the whole mixture, and the weight of being away.
func (m *mixture) level() (mean, variance, pAway float64) {
	var sq float64 // E[λ²], about the first mean, which is near
	first, _ := m.node[0].g[home].level()
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		for k, w := range nd.w {
			l, v := nd.g[k].level()
			d := l - first
			mean += w * d
			sq += w * (v + d*d)
		}
		pAway += nd.w[away]
	}
	return first + mean, max(sq-mean*mean, 0), pAway
}

// collapse is the Gaussian with the moments of the whole mixture, and the weight of being away.
func (m *mixture) collapse() (g gauss, pAway float64) {
	sum := 0.0
	m.each(func(nd *node, k mode, w float64) {
		if sum == 0 {
			g = nd.g[k]
		} else {
			g = merge(sum/(sum+w), &g, w/(sum+w), &nd.g[k])
		}
		sum += w
		if k == away {
			pAway += w
		}
	})
	return g, pAway
}

// ended is the probability that no more than heel is left.
func (m *mixture) ended(heel float64) (p float64) {
	m.each(func(nd *node, k mode, w float64) {
		p += w * below(heel, Normal{nd.g[k].m, math.Sqrt(max(nd.g[k].mm, 1))})
	})
	return p
}

// lumpiness is the mean φ.
func (m *mixture) lumpiness() (phi float64) {
	for i := range m.node[:m.n] {
		nd := &m.node[i]
		phi += nd.phi * (nd.w[home] + nd.w[moved] + nd.w[away])
	}
	return phi
}
