package loss

import (
	"math"
	"time"

	"tarebell/forecast/demand"
)

// chain is one hypothesis about what leaves.
type chain struct {
	m, p  float64    // mass and its variance, g
	drawn demand.Law // what the last step drew
	r     float64    // evidence that gas leaks so; while a loss is followed, its probability
	age   float64    // h since it began, on average over the moments it may have begun at
	lost  float64    // g since then
}

// outlier is the density of a reading that no hypothesis explains, 1/g: one in a thousand, anywhere within a kilogram.
const outlier = 1e-6

// observe takes a mass y of variance v after a step whose use has the given law, and returns its likelihood. The outcome
// is kept Gaussian by moments.
func (c *chain) observe(law *demand.Law, y, v float64) float64 {
	var post demand.Law
	sum, m1, m2 := 0.0, 0.0, 0.0
	for k, w := range law {
		if w < 1e-9 {
			continue
		}
		s := demand.Spread(k)
		p := c.p + s*s
		e := y - c.m + demand.Size(k)
		z := p + v
		l := w * math.Exp(-e*e/(2*z)) / math.Sqrt(2*math.Pi*z)
		post[k] = l
		sum += l
		gain := p / z
		m := gain*e - demand.Size(k) // relative to c.m
		m1 += l * m
		m2 += l * (m*m + p*(1-gain))
	}
	if sum < outlier*1e-3 { // nothing explains it: follow it
		c.m, c.p, c.drawn = y, v+c.p, *law
		return outlier
	}
	mean := m1 / sum
	c.m, c.p = c.m+mean, math.Max(m2/sum-mean*mean, 1e-3)
	for k := range post {
		post[k] /= sum
	}
	c.drawn = post
	return sum + outlier
}

// blend is the mixture of two hypotheses by moments, wa+wb = 1. The evidence is a's.
func blend(wa float64, a *chain, wb float64, b *chain) chain {
	if wb < 1e-9 {
		return *a
	}
	d := a.m - b.m
	c := chain{m: wa*a.m + wb*b.m, p: wa*a.p + wb*b.p + wa*wb*d*d, r: a.r, age: wa * a.age, lost: wa * a.lost}
	for k := range c.drawn {
		c.drawn[k] = wa*a.drawn[k] + wb*b.drawn[k]
	}
	return c
}

// rest is what the reading does at one hour of the day when nothing is drawn, by warmth and the like.
type rest struct {
	flow float64 // g/h
	v    float64 // its variance; 0: as before anything is known
	at   time.Time
}

const (
	restStart   = 9.0  // (g/h)²
	restWander  = 0.05 // (g/h)² a day
	restScatter = 4.0  // (g/h)², of one day
)

func (b *rest) variance() float64 {
	if b.at.IsZero() {
		return restStart
	}
	return b.v
}

// learn takes a flow z of variance v; weight is how sure it is that nothing was drawn.
func (b *rest) learn(z, v, weight float64, at time.Time) {
	if weight < 0.5 {
		return
	}
	if b.at.IsZero() {
		b.v = restStart
	} else {
		b.v = math.Min(b.v+restWander*at.Sub(b.at).Hours()/24, restStart)
	}
	b.at = at
	gain := weight * b.v / (b.v + v + restScatter)
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
