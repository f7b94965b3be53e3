package loss

import (
	"math"
	"time"
)

// onsets are the nights since which a slow loss may have been going on, each with what the nights since then say: the
// generalised likelihood ratio of Willsky & Jones (1976) for a step in what a Kalman filter follows. The filter follows
// the usual slope μ of a night. A loss of g since some night shifts its surprises ν by g·G, with G known:
//
//	G = -1 - f,  f ← f + K·G     f: how far the filter has been drawn along, per g/h; K: its gain
//	ln Λ(g) = g·Σ G·ν/S - g²/2·Σ G²/S
//
// so a loss that the filter has had time to learn as usual adds no more evidence.
type onsets struct {
	of   [mostOnsets]onset // a ring
	next int
}

type onset struct {
	since  time.Time
	f      float64
	d, j   float64 // Σ G·ν/S and Σ G²/S
	nights int
	day    float64 // g/day, usual fall of a day when it began
	own    float64 // g/h, by how much the household's nights might shift for weeks, by what was known then
	days   int     // whose fall is known, since then
}

const (
	mostOnsets  = 100 // nights looked back at
	fewestSince = 2   // nights that must have spoken: one may be odd
)

// slowRates are the losses looked for, g/h; evenly spaced in the logarithm, which is what is thought of their size
// before they are weighed.
var slowRates = [...]float64{1, 1.26, 1.58, 2, 2.51, 3.16, 3.98, 5.01, 6.31, 7.94, 10, 12.6}

// all are the onsets in use.
func (o *onsets) all() []onset { return o.of[:min(o.next, mostOnsets)] }

// add follows one more; the oldest goes.
func (o *onsets) add(c onset) {
	o.of[o.next%mostOnsets] = c
	o.next++
}

// surprised takes a night's surprise nu, of variance s, and the filter's gain k.
func (o *onsets) surprised(nu, s, k float64) {
	for i := range o.all() {
		c := &o.of[i]
		g := -1 - c.f
		c.d += g * nu / s
		c.j += g * g / s
		c.f += k * g
		c.nights++
	}
}

// pass takes a day whose fall is known.
func (o *onsets) pass() {
	for i := range o.all() {
		if c := &o.of[i]; c.nights > 0 {
			c.days++
		}
	}
}

// says is the evidence of the nights for a loss of g since then, as a log likelihood ratio.
func (c *onset) says(g float64) float64 { return g*c.d - g*g/2*c.j }

// habit is what the nights say for a shift of the household's own nights since then, of standard deviation sd g/h: the
// same likelihood ratio, averaged over shifts.
func (c *onset) habit(sd float64) float64 {
	v := sd * sd
	return (c.d*c.d*v/(1+c.j*v) - math.Log1p(c.j*v)) / 2
}

// most is the most that the nights say for any loss.
func (c *onset) most() float64 {
	if c.d <= 0 {
		return 0
	}
	return c.d * c.d / (2 * c.j)
}

// verdict is the evidence of nights and days for each of slowRates, and how far the days lower the threshold.
func (c *onset) verdict(d *daily, habit float64) (evidence, known [len(slowRates)]float64) {
	for i, g := range slowRates {
		evidence[i] = c.says(g) - habit
		if x, v, ok := d.speaks(c, g); ok {
			more, k := support(x, v, g)
			evidence[i], known[i] = evidence[i]+more, k
		}
	}
	return evidence, known
}

// glrThreshold is the log likelihood ratio a²/2 at which the generalised likelihood ratio of a step in independent
// normal values signals at the given rate of false alarms per value, for steps of one sign:
//
//	1/rate = 2·√(2π)·exp(a²/2) / (a·∫₀ᵃ x·ν(x)² dx),  ν(x) ≈ exp(-0.583·x)
//
// (Siegmund & Venkatraman 1995 for steps of either sign, from memory; held to simulation in the tests).
func glrThreshold(rate float64) float64 {
	const c = 2 * 0.583
	x := leastThreshold
	for range 20 {
		a := math.Sqrt(2 * x)
		overshoot := (1 - math.Exp(-c*a)*(1+c*a)) / (c * c)
		x = math.Max(math.Log(a*overshoot/(2*math.Sqrt(2*math.Pi)*rate)), leastThreshold)
	}
	return x
}

// leastThreshold is a likelihood ratio of 20.
const leastThreshold = 3.0
