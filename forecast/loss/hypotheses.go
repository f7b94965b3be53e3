package loss

import "math"

// turn lets bouts of drawing and leaks begin and end.
func (f *flow) turn(w *Watch, dt, hour float64) {
	if f.losing {
		f.begun = f.chain
		c := f.lead()
		f.begun[0] = merge(f.stop/(1+f.stop), &f.chain[0], 1/(1+f.stop), &c)
		return
	}
	idle := f.bout[0].p
	rest, sum := f.chain[0], idle
	f.quiet = 1
	part := 1.0 // of a usual step
	if f.usual > 0 {
		part = math.Min(1, dt/f.usual)
	}
	now := w.use.At(hour)
	for i := 1; i < chains; i++ {
		b, g := &f.bout[i], leaks[i-1]
		stays := b.p * now.Stays(i-1, b.mass, g*dt)
		starts := idle * now.Starts(i-1) * part * now.Stays(i-1, 0, g*dt)
		ends := b.p - stays
		on, off := leakPrior*f.chain[i].r+stays, leakPrior+starts
		anew := f.chain[0]
		anew.leaks(i)
		anew.sometime(dt)
		f.begun[i] = merge(on/(on+off), &f.chain[i], off/(on+off), &anew)
		if ends > 1e-9 {
			over := f.chain[i]
			over.ended()
			rest = merge(sum/(sum+ends), &rest, ends/(sum+ends), &over)
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

// lead is the mixture of all leaks, by their probability, merged into one hypothesis: how it is when they have ended.
func (f *flow) lead() chain {
	c, sum := f.chain[1], f.chain[1].r
	for i := 2; i < chains; i++ {
		if r := f.chain[i].r; r > 0 {
			c = merge(sum/(sum+r), &c, r/(sum+r), &f.chain[i])
			sum += r
		}
	}
	c.ended()
	return c
}

// move carries every hypothesis over the running step, as far as its readings go.
func (f *flow) move(w *Watch, dt float64) {
	hour := int(mod24(f.sum.hour))
	b := &f.baseline[hour/2]
	few := math.Max(b.flow, 0) // servings too small to be told apart
	q := (w.nights.roughness() + 8*(b.variance()+0.25*few*few) + w.serving()*few) * dt
	v := f.sum.variance/f.sum.n + f.sum.bias
	y := f.sum.mass()
	var leak, bout [chains]float64
	for i := range f.chain {
		c := f.begun[i]
		ragged := 0.0
		if i > 0 {
			ragged = w.serving() * leaks[i-1] * dt
		}
		c.m -= b.flow * dt
		c.move(dt, q)
		leak[i], bout[i] = c.observe(&f.lump, y, v, ragged)
		if i > 0 {
			c.near(leaks[i-1])
		}
		f.next[i] = c
	}
	f.weigh(&leak, &bout)
}

// weigh turns the likelihoods of leaks and of bouts into evidence.
func (f *flow) weigh(leak, bout *[chains]float64) {
	if !f.losing {
		use := 0.0
		for i := range bout {
			f.drawing[i] = f.bout[i].p * bout[i]
			use += f.drawing[i]
		}
		for i := range leak {
			f.drawing[i] /= use
			f.next[i].r = math.Min((1+f.chain[i].r)*f.quiet*leak[i]/use, mostEvidence)
		}
		return
	}
	sum := 0.0
	for i := 1; i < chains; i++ {
		beside := (f.chain[max(1, i-1)].r + f.chain[min(chains-1, i+1)].r) / 2
		f.next[i].r = (0.98*f.chain[i].r + 0.02*beside + 1e-6) * leak[i]
		sum += f.next[i].r
	}
	for i := 1; i < chains; i++ {
		f.next[i].r /= sum
	}
	f.next[0].r = math.Min((1+f.stop)*leak[0]/sum, mostEvidence)
}

// mostEvidence keeps R finite.
const mostEvidence = 1e30
