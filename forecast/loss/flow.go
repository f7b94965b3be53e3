package loss

import (
	"math"
	"time"

	"tarebell/forecast/demand"
)

// flow follows what leaves, in steps of half an hour or from reading to reading, under two kinds of hypotheses: the household
// draws as it does (chain 0), or gas leaks at one of the rates as well. Each keeps a Gaussian of the mass and the law of what was
// drawn last.
//
// The evidence for a leak is the Shiryaev-Roberts statistic (Pollak 1985)
//
//	R ← (1 + R)·L(leak)/L(use),
//
// the likelihood ratio summed over all moments at which it may have begun. Without a leak, R grows by 1 a step on average, so
// that the mean time to a false alarm at R > A is at least A steps.
type flow struct {
	at    time.Time // mean time of the readings of the last finished step
	chain [chains]chain
	begun [chains]chain // at the start of the running step
	bout  [chains]bout  // what of each is use; 0: no bout
	next  [chains]chain // as they are if the running step ends now
	lump  demand.Law    // of what is drawn at once in the running step

	quiet   float64         // how probable it is that no bout starts in the running step
	drawing [chains]float64 // how probable each bout is by the running step
	known   bool

	step     int64 // the running step, a number that grows with time
	sum      mean
	mass     float64 // measured at the end of the last step, g
	drawn    float64 // g seen to be drawn so far
	usual    float64 // h, between steps
	usualN   float64 // readings in a step
	losing   bool    // a loss found here is followed
	stop     float64 // R for its having stopped
	baseline [12]baseline
	log      pending
}

// leaks are the rates looked for, g/h, evenly spaced in the logarithm: nothing is known of a leak's size beforehand.
var leaks = demand.Paces

// chains are the hypotheses.
const chains = len(demand.Paces) + 1

// bout is how probable it is, of all use, that a bout of drawing goes on at the rate of a chain, and what it has drawn, g.
type bout struct{ p, mass float64 }

// leakPrior is how probable it is that a leak begins in a step: one in six years.
const leakPrior = 1e-5

// leakSpread is half the spacing of the rates: each stands for those around it.
const leakSpread = 0.2

// ended takes the leak away.
func (c *chain) ended() { c.g, c.gg, c.mg = 0, 0, 0 }

// leaks makes a chain the one of a leak of a rate that nothing is known of but that it is near the i-th.
func (c *chain) leaks(i int) {
	g := leaks[i-1]
	c.g, c.gg, c.mg = g, leakSpread*leakSpread*g*g, 0
}

// sometime makes what begins with a step of dt hours begin anywhere within it: moved by dt, half of what goes in dt is gone, with the variance of a uniform
// distribution.
func (c *chain) sometime(dt float64) {
	most := c.g * dt
	c.m += most / 2
	c.p += most * most / 12
	c.lost, c.age = -most/2, -dt/2
}

// stepSeconds is the shortest step, s.
const stepSeconds = 1800

// reset starts anew at r.
func (f *flow) reset(r Reading) {
	for i := range f.chain {
		f.chain[i] = chain{m: float64(r.Gross), p: float64(r.SD * r.SD), drawn: demand.Law{0: 1}}
		if i > 0 {
			f.chain[i].leaks(i)
		}
	}
	f.next = f.chain
	f.bout = [chains]bout{{p: 1}}
	f.at, f.known, f.losing, f.stop, f.sum = r.At, true, false, 0, mean{}
	f.step, f.mass = r.At.Unix()/stepSeconds, float64(r.Gross)
}

// add takes a reading.
func (f *flow) add(w *Watch, r Reading) {
	if !f.known {
		f.reset(r)
		return
	}
	if step := r.At.Unix() / stepSeconds; step != f.step || f.hasty(w, r) {
		f.endStep(w)
		f.step = step
	}
	if r.StepSD > 0 {
		f.shake(float64(r.StepSD * r.StepSD))
	}
	first := f.sum.n == 0
	f.sum.add(r)
	dt := f.sum.time().Sub(f.at).Hours()
	if dt <= 0 {
		f.sum = mean{}
		return
	}
	if first {
		f.beginStep(w, dt)
	}
	f.move(w, dt)
}

// soonest is the shortest step while a loss is suspected and the scale is asked more often.
const soonest = 4 * time.Minute

// hasty reports that a suspicion makes the running step worth ending before its time.
func (f *flow) hasty(w *Watch, r Reading) bool {
	return f.sum.n > 0 && r.At.Sub(f.at) >= soonest && r.At.Sub(f.sum.last) >= soonest/2 && w.Expectant()
}

// shake makes every mass less certain: something was moved.
func (f *flow) shake(variance float64) {
	for i := range f.chain {
		f.chain[i].p += variance
		f.begun[i].p += variance
		f.next[i].p += variance
	}
}

// beginStep starts a step.
func (f *flow) beginStep(w *Watch, dt float64) {
	steps := 1.0
	if f.usual > 0 {
		steps = math.Max(1, dt/f.usual)
	}
	hour := f.sum.hour
	f.turn(w, dt, hour)
	f.lump = w.use.Lump(hour)
	f.lump.Blur(math.Sqrt(2 * (f.sum.variance/math.Max(f.usualN, 1) + f.sum.bias)))
	f.lump.Stretch(steps)
	if f.sum.quiet {
		f.lump.Quieten()
	}
}

// endStep ends the running step.
func (f *flow) endStep(w *Watch) {
	if f.sum.n == 0 {
		return
	}
	at := f.sum.time()
	dt := at.Sub(f.at).Hours()
	if !f.losing {
		f.learn(w, dt)
		for i := range f.bout {
			f.bout[i].p = f.drawing[i]
		}
	}
	f.chain = f.next
	if f.losing {
		f.stop = f.chain[0].r
	}
	if f.usual == 0 {
		f.usual = dt
	}
	f.usual += (math.Min(dt, 2*f.usual) - f.usual) / 20
	f.usualN += (f.sum.n - f.usualN) / 20
	f.at = at
	f.sum = mean{}
}

// learn remembers the step as use, and what the reading did while nothing was drawn.
func (f *flow) learn(w *Watch, dt float64) {
	old, now := &f.begun[0], &f.next[0]
	b := &f.baseline[int(mod24(f.sum.hour))/2]
	idle := f.drawing[0] * now.drawn[0]
	f.log.add(w, past{hour: f.sum.hour, dt: dt, draws: 1 - idle, mass: f.mass - f.sum.mass(), now: now.drawn})
	v := f.sum.variance/f.sum.n + f.sum.bias
	b.learn((old.m-f.sum.mass())/dt, (old.p+v)/(dt*dt), idle, f.sum.last)
	if idle < 0.5 {
		f.drawn += math.Max(f.mass-f.sum.mass()-b.flow*dt, 0)
	}
	f.mass = f.sum.mass()
}
