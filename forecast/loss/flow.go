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

	step   int64 // the running step, a number that grows with time
	sum    mean
	mass   float64 // measured at the end of the last step, g
	drawn  float64 // g seen to be drawn so far
	usual  float64 // h, between steps
	usualN float64 // readings in a step
	losing bool    // a loss found here is followed
	stop   float64 // R for its having stopped
	rest   [12]rest
	log    pending
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

// stepSeconds is the shortest step, s.
const stepSeconds = 1800

// mean gathers the readings of a step.
type mean struct {
	from     time.Time
	base     float64
	n, y, t  float64 // readings, sums of g above base and of s after from
	variance float64 // of one reading, g²
	bias     float64 // variance that does not average out, g²
	quiet    bool
	hour     float64 // of the last reading
	last     time.Time
}

func (s *mean) add(r Reading) {
	if s.n == 0 {
		s.from, s.base = r.At, float64(r.Gross)
	}
	c := coarse(float64(r.SD), float64(r.Grain))
	s.n, s.y, s.t = s.n+1, s.y+float64(r.Gross)-s.base, s.t+r.At.Sub(s.from).Seconds()
	s.variance, s.bias, s.quiet, s.hour, s.last = float64(r.SD*r.SD), c*c, r.Quiet, r.Hour, r.At
}

func (s *mean) mass() float64 { return s.base + s.y/s.n }
func (s *mean) time() time.Time {
	return s.from.Add(time.Duration(s.t / s.n * float64(time.Second)))
}

// reset starts anew at r.
func (f *flow) reset(r Reading) {
	for i := range f.chain {
		f.chain[i] = chain{m: float64(r.Gross), p: float64(r.SD * r.SD), drawn: demand.Law{0: 1}}
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
		f.close(w)
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
		f.open(w, dt)
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

// open starts a step.
func (f *flow) open(w *Watch, dt float64) {
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

// turn lets bouts of drawing and leaks begin and end.
func (f *flow) turn(w *Watch, dt, hour float64) {
	if f.losing {
		f.begun = f.chain
		c := f.lead()
		f.begun[0] = blend(f.stop/(1+f.stop), &f.chain[0], 1/(1+f.stop), &c)
		return
	}
	idle := f.bout[0].p
	rest, sum := f.chain[0], idle
	f.quiet = 1
	part := 1.0 // of a usual step
	if f.usual > 0 {
		part = math.Min(1, dt/f.usual)
	}
	for i := 1; i < chains; i++ {
		b, g := &f.bout[i], leaks[i-1]
		stays := b.p * w.use.Stays(hour, i-1, b.mass, g*dt)
		starts := idle * w.use.Starts(hour, i-1) * part * w.use.Stays(hour, i-1, 0, g*dt)
		ends := b.p - stays
		on, off := leakPrior*f.chain[i].r+stays, leakPrior+starts
		f.begun[i] = blend(on/(on+off), &f.chain[i], off/(on+off), &f.chain[0])
		if ends > 1e-9 {
			rest = blend(sum/(sum+ends), &rest, ends/(sum+ends), &f.chain[i])
			sum += ends
		}
		b.mass *= stays / math.Max(stays+starts, 1e-30)
		b.mass += g * dt
		b.p = stays + starts
		sum -= starts
		f.quiet -= starts / math.Max(idle, 1e-30)
	}
	f.begun[0] = rest
	f.bout[0].p = math.Max(sum, 1e-9)
}

// lead is the blend of all leaks, by their probability.
func (f *flow) lead() chain {
	c, sum := f.chain[1], f.chain[1].r
	for i := 2; i < chains; i++ {
		if r := f.chain[i].r; r > 0 {
			c = blend(sum/(sum+r), &c, r/(sum+r), &f.chain[i])
			sum += r
		}
	}
	return c
}

// move carries every hypothesis over the running step, as far as its readings go.
func (f *flow) move(w *Watch, dt float64) {
	hour := int(mod24(f.sum.hour))
	b := &f.rest[hour/2]
	few := math.Max(b.flow, 0) // servings too small to be told apart
	q := (w.nights.roughness() + 8*(b.variance()+0.25*few*few) + w.serving()*few) * dt
	v := f.sum.variance/f.sum.n + f.sum.bias
	y := f.sum.mass()
	var like [chains]float64
	for i := range f.chain {
		c := f.begun[i]
		g := 0.0
		if i > 0 {
			g = leaks[i-1]
		}
		c.m -= (b.flow + g) * dt
		c.p += q + math.Pow(leakSpread*g*dt, 2)
		c.lost += g * dt
		c.age += dt
		like[i] = c.observe(&f.lump, y, v)
		f.next[i] = c
	}
	f.weigh(&like)
}

// weigh turns likelihoods into evidence.
func (f *flow) weigh(like *[chains]float64) {
	if !f.losing {
		use := 0.0
		for i := range like {
			f.drawing[i] = f.bout[i].p * like[i]
			use += f.drawing[i]
		}
		for i := range like {
			f.drawing[i] /= use
			f.next[i].r = math.Min((1+f.chain[i].r)*f.quiet*like[i]/use, mostEvidence)
		}
		return
	}
	sum := 0.0
	for i := 1; i < chains; i++ {
		beside := (f.chain[max(1, i-1)].r + f.chain[min(chains-1, i+1)].r) / 2
		f.next[i].r = (0.98*f.chain[i].r + 0.02*beside + 1e-6) * like[i]
		sum += f.next[i].r
	}
	for i := 1; i < chains; i++ {
		f.next[i].r /= sum
	}
	f.next[0].r = math.Min((1+f.stop)*like[0]/sum, mostEvidence)
}

// mostEvidence keeps R finite.
const mostEvidence = 1e30

// close ends the running step.
func (f *flow) close(w *Watch) {
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
	hour := mod24(f.sum.hour)
	b := &f.rest[int(hour)/2]
	idle := f.drawing[0] * now.drawn[0]
	f.log.add(w, past{hour: hour, dt: dt, draws: 1 - idle, mass: f.mass - f.sum.mass(), now: now.drawn})
	v := f.sum.variance/f.sum.n + f.sum.bias
	b.learn((old.m-f.sum.mass())/dt, (old.p+v)/(dt*dt), idle, f.sum.last)
	if idle < 0.5 {
		f.drawn += math.Max(f.mass-f.sum.mass()-b.flow*dt, 0)
	}
	f.mass = f.sum.mass()
}

// evidence is the mean of R over the rates as it stands now.
func (f *flow) evidence() float64 {
	sum := 0.0
	for i := 1; i < chains; i++ {
		sum += f.next[i].r
	}
	return sum / float64(len(leaks))
}

// going reports that the latest step speaks for the leak that has most evidence: what has stopped is use.
func (f *flow) going() bool {
	best := 1
	for i := 2; i < chains; i++ {
		if f.next[i].r > f.next[best].r {
			best = i
		}
	}
	return f.next[best].r >= 1+f.chain[best].r
}

// found describes the leak.
func (f *flow) found(at time.Time) Found {
	var sum, g, g2, lost, lost2, age, age2 float64
	for i := 1; i < chains; i++ {
		c := &f.next[i]
		x := leaks[i-1]
		sum += c.r
		g, g2 = g+c.r*x, g2+c.r*x*x*(1+leakSpread*leakSpread/3)
		lost, lost2 = lost+c.r*c.lost, lost2+c.r*c.lost*c.lost
		age, age2 = age+c.r*c.age, age2+c.r*c.age*c.age
	}
	g, lost, age = g/sum, lost/sum, age/sum
	return Found{
		Kind: kindOf(g), Since: at.Add(-time.Duration(age * float64(time.Hour))),
		Rate: perHour(g), RateSD: perHour(math.Sqrt(math.Max(g2/sum-g*g, 0))),
		Lost: grams(lost), LostSD: grams(math.Sqrt(math.Max(lost2/sum-lost*lost, 0) + f.next[0].p)),
	}
}

// follow makes the evidence for each rate its probability: the leak is believed from now on.
func (f *flow) follow() {
	sum := 0.0
	for i := 1; i < chains; i++ {
		sum += f.next[i].r
	}
	for i := 1; i < chains; i++ {
		f.next[i].r /= sum
		f.chain[i] = f.next[i]
		f.begun[i] = f.next[i]
	}
	f.chain[0] = f.lead()
	f.begun[0] = f.chain[0]
	f.at = f.sum.time()
	f.sum = mean{}
	f.losing, f.stop = true, 0
}

// forgive forgets all suspicion: every hypothesis stands where the present one does.
func (f *flow) forgive() {
	c := f.next[0]
	if f.losing {
		f.chain = f.next
		c = f.lead()
	}
	c.r, c.age, c.lost = 0, 0, 0
	for i := range f.chain {
		f.chain[i], f.begun[i], f.next[i] = c, c, c
	}
	f.losing, f.stop = false, 0
	f.bout = [chains]bout{{p: 1}}
	if f.sum.n > 0 {
		f.at = f.sum.time()
		f.sum = mean{}
	}
}
