package loss

import (
	"math"
	"time"

	"tarebell/forecast/demand"
)

// chain is one hypothesis about what leaves.
type chain struct {
	m, p  float64    // mass and its variance, g
	g, gg float64    // rate of the leak, g/h, and its variance; 0: none
	mg    float64    // covariance of both
	drawn demand.Law // what the last step drew
	r     float64    // evidence that gas leaks so; while a loss is followed, its probability
	age   float64    // h since it began, on average over the moments it may have begun at
	lost  float64    // g since then
}

// outlier is the density of a reading that no hypothesis explains, 1/g: one in a thousand, anywhere within a kilogram.
const outlier = 1e-6

// move lets dt hours pass, in which the leak goes on and noise of variance q comes in.
func (c *chain) move(dt, q float64) {
	c.m -= c.g * dt
	c.p += q - 2*c.mg*dt + c.gg*dt*dt
	c.mg -= c.gg * dt
	c.lost += c.g * dt
	c.age += dt
}

// observe takes a mass y of variance v after a step whose use has the given law, and returns its likelihood: if what goes steadily is a
// leak, and if it is a bout, of which people draw glass by glass, so that its mass scatters by a variance of ragged as well. The outcome
// is kept Gaussian by moments.
func (c *chain) observe(law *demand.Law, y, v, ragged float64) (leak, bout float64) {
	var post demand.Law
	var m1, m2, g1, g2, mg, less float64
	for k, w := range law {
		if w < 1e-9 {
			continue
		}
		s := demand.Spread(k)
		p := c.p + s*s
		e := y - c.m + demand.Size(k)
		z := p + v
		l := w * normal(e*e, z)
		post[k] = l
		leak += l
		if ragged > 0 {
			bout += w * normal(e*e, z+ragged)
		}
		kept := v / z
		m, g := p/z*e-demand.Size(k), c.mg/z*e // relative to c.m and c.g
		less += l * p / z * e
		m1 += l * m
		m2 += l * (m*m + p*kept)
		g1 += l * g
		g2 += l * (g*g - c.mg*c.mg/z)
		mg += l * (m*g + c.mg*kept)
	}
	if ragged == 0 {
		bout = leak
	}
	if leak < outlier*1e-3 { // nothing explains it: follow it
		c.lost -= math.Max(y-c.m, 0) // what is still there has not left
		c.m, c.p, c.mg, c.drawn = y, v+c.p, 0, *law
		return outlier, bout + outlier
	}
	c.lost -= less / leak // than its rate led to expect
	m1, g1 = m1/leak, g1/leak
	c.m, c.p = c.m+m1, math.Max(m2/leak-m1*m1, 1e-3)
	c.g, c.gg, c.mg = c.g+g1, math.Max(c.gg+g2/leak-g1*g1, 0), mg/leak-m1*g1
	for k := range post {
		post[k] /= leak
	}
	c.drawn = post
	return leak + outlier, bout + outlier
}

// normal is the density of a normal distribution of variance z at the root of e2; what lies nine standard deviations out counts as nothing.
func normal(e2, z float64) float64 {
	if e2 > 81*z {
		return 0
	}
	return math.Exp(-e2/(2*z)) / math.Sqrt(2*math.Pi*z)
}

// near keeps the rate near what the chain stands for.
func (c *chain) near(rate float64) {
	const most = 1.2247448713915890 // the root of the spacing, demand.Paces
	c.g = min(max(c.g, rate/most), rate*most)
	const least = 0.02 * 0.02 // leaks grow and shrink with the pressure
	c.gg = max(c.gg, least*rate*rate)
}

// merge is the mixture of two hypotheses by moments, wa+wb = 1. The evidence is a's.
func merge(wa float64, a *chain, wb float64, b *chain) chain {
	if wb < 1e-9 {
		return *a
	}
	d, h, w := a.m-b.m, a.g-b.g, wa*wb
	c := chain{
		m: wa*a.m + wb*b.m, p: wa*a.p + wb*b.p + w*d*d, r: a.r, age: wa*a.age + wb*b.age, lost: wa*a.lost + wb*b.lost,
		g: wa*a.g + wb*b.g, gg: wa*a.gg + wb*b.gg + w*h*h, mg: wa*a.mg + wb*b.mg + w*d*h,
	}
	for k := range c.drawn {
		c.drawn[k] = wa*a.drawn[k] + wb*b.drawn[k]
	}
	return c
}

// baseline is what the reading does at one hour of the day when nothing is drawn, by warmth and the like.
type baseline struct {
	flow float64 // g/h
	v    float64 // its variance; 0: as before anything is known
	at   time.Time
}

const (
	baselineStart   = 9.0  // (g/h)²
	baselineWander  = 0.05 // (g/h)² a day
	baselineScatter = 4.0  // (g/h)², of one day
)

func (b *baseline) variance() float64 {
	if b.at.IsZero() {
		return baselineStart
	}
	return b.v
}

// learn takes a flow z of variance v; weight is how sure it is that nothing was drawn.
func (b *baseline) learn(z, v, weight float64, at time.Time) {
	if weight < 0.5 {
		return
	}
	if b.at.IsZero() {
		b.v = baselineStart
	} else {
		b.v = math.Min(b.v+baselineWander*at.Sub(b.at).Hours()/24, baselineStart)
	}
	b.at = at
	gain := weight * b.v / (b.v + v + baselineScatter)
	b.flow += gain * (z - b.flow)
	b.v *= 1 - gain
}

// pending are the last steps, kept for half a day before they count as use: a loss may turn out to have begun with them.
type pending struct {
	step [pendingSteps]past
	n    int // ever
	done int // of these, counted or dropped
}

const pendingSteps = 12

// past is a step.
type past struct {
	hour, dt    float64
	draws, mass float64 // how probable it drew, and how much, g
	now         demand.Law
}

func (p *pending) add(w *Watch, s past) {
	if p.n-p.done == pendingSteps {
		p.count(w, 1)
	}
	p.step[p.n%pendingSteps] = s
	p.n++
}

// count counts the oldest one as use.
func (p *pending) count(w *Watch, weight float64) {
	s := &p.step[p.done%pendingSteps]
	w.use.Learn(s.hour, &s.now, weight)
	w.use.Seen(s.hour, s.dt, s.draws, s.mass)
	p.done++
}

// settle counts all as use, or drops them.
func (p *pending) settle(w *Watch, use bool) {
	for p.done < p.n {
		if use {
			p.count(w, 1)
		} else {
			p.done++
		}
	}
}
