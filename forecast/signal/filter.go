package signal

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Fastest is how fast gas may leak, g/h: what goes faster is something else. Ours.
const Fastest = 2500.0

// Thresholds, in standard deviations of a reading unless said otherwise.
const (
	gate       = 6.0  // an ordinary reading lies within this of the level
	agree      = 5.0  // readings of one step lie within this of each other
	follow     = 0.5  // share of a surprise that the level takes over at most
	confirm    = 3    // readings that make a step
	startUp    = 3    // readings before steps are told
	sloping    = 4.0  // for a slope to be one
	wildest    = 24   // odd readings without an explanation before the scale is taken afresh
	smallest   = 60.0 // g, a step below this is not told
	goesOn     = 1.5  // times the pace of a fall that was passed on, it may go on with for an hour
	fillShare  = 0.3  // of a net fill: what must come in to be a fill after a lift-off
	daysUse    = 3.0  // times the use of its average day, a household may draw for days
	fillAlone  = 0.65 // and without one
	fillBooked = 0.1  // and when a refill is booked for the day
)

// ceiling is the most that lively ordinary use may take within h hours, g: three servings at once, a
// serving every seven minutes for an hour, one every twelve for four hours more. A guess of ours at a party,
// common practice, no source; 12 g when the serving is not known.
func (f *Filter) ceiling(h float64) float64 {
	s := f.serving()
	most := s * (3 + 9*math.Min(h, 1) + 5*math.Min(math.Max(h-1, 0), 4) + math.Min(0.5*math.Max(h-5, 0), 400))
	if h > 24 && f.opt.Use != nil {
		most = math.Max(most, daysUse*f.opt.Use.Day()*h/24)
	}
	return most
}

// serving is what a large one takes, g.
func (f *Filter) serving() float64 {
	if f.opt.Serving > 0 {
		return 1.3 * float64(f.opt.Serving)
	}
	return 12
}

func hours(from, to time.Time) float64 { return to.Sub(from).Hours() }

// cylinder is the mass r shows for the cylinder alone.
func (f *Filter) cylinder(r Reading) float64 { return float64(r.Gross) - f.steps.sum() }

// judge takes a reading while the cylinder stands on the platform.
func (f *Filter) judge(r Reading) {
	if f.n == 0 {
		f.start(r)
		return
	}
	h := hours(f.at, r.At)
	e := f.cylinder(r) - f.level
	up := gate*f.noise.sd + 3*math.Min(h, 12)
	if f.np > 0 {
		h = hours(f.at, f.pend[0].At) // whatever happened, happened in one interval
	}
	if e > up || f.deep(r, h) || f.removed(e, h) {
		f.doubt(r)
		return
	}
	f.np, f.wild = 0, 0
	f.pace = f.falls(r, h)
	f.ripen(r)
	f.accept(r, f.stepSD, f.shiftSD)
	f.behaves(r)
}

// deep reports that r lies further down than scatter and h hours of lively use explain.
func (f *Filter) deep(r Reading, h float64) bool {
	return f.cylinder(r) < f.lowest()-gate*f.noise.sd-3*math.Min(h, 12)-f.ceiling(h)-goesOn*f.pace*math.Min(h, 1)
}

// falls is how fast r, after h hours, lies below the last ordinary reading, g/h; 0 if by no more than scatter.
func (f *Filter) falls(r Reading, h float64) float64 {
	d := f.noise.last - f.cylinder(r)
	if d < gate*f.noise.sd {
		return 0
	}
	return d / math.Max(h, 1e-3)
}

// removed reports that a fall of -e in h hours, which use might explain, is what stands beside the cylinder, with what was drawn in a
// silence, or takes back what changed lately: better wait and see.
func (f *Filter) removed(e, h float64) bool {
	used := 0.0
	if h >= longSilence {
		used = f.ceiling(h)
	}
	tol := agree * f.noise.sd
	return e < -4*f.noise.sd && (f.steps.objects(-e, tol, used, f.at) || f.steps.lately(f.at) && f.steps.undoneBy(e, tol, 0) != 0)
}

// start takes the first reading, if it can be this cylinder at all; otherwise it waits for more.
func (f *Filter) start(r Reading) {
	if f.empty(r) || float64(r.Gross) > f.heaviest() {
		f.doubt(r)
		return
	}
	f.np = 0
	f.begin(float64(r.Gross))
	f.accept(r, 0, f.shiftSD)
}

// begin takes a gross mass for the first one, after which the zero is right if the cylinder is full by it, and off if it is more than full by it and
// somebody told of the fill.
func (f *Filter) begin(gross float64) {
	more := gross - float64(f.opt.House+f.told)
	switch {
	case f.refilled(gross):
		f.zero = 0
	case f.told > 0 && more > 0:
		f.zero = more
	}
}

// empty reports a platform without the cylinder: far less than its tare, or just what stood beside it.
func (f *Filter) empty(r Reading) bool {
	x, house := float64(r.Gross), float64(f.opt.House)
	beside := f.steps.sum()
	return x < 0.7*house || beside > 0 && math.Abs(x-beside) < 0.03*house+agree*f.noise.sd &&
		f.steps.undoneBy(x-beside-f.level, 4*f.noise.sd+5, 50) == 0
}

// heaviest is the most a full cylinder may show: a tenth overfilled, and a kilogram for whatever else.
func (f *Filter) heaviest() float64 {
	return float64(f.opt.House) + 1.1*float64(f.opt.NetFill) + 1000
}

// accept passes r on and lets the level follow.
func (f *Filter) accept(r Reading, stepSD, shiftSD float64) {
	x := f.cylinder(r)
	if f.n == 0 {
		f.level = x
	}
	f.level += (x - f.level) * math.Max(f.gain(hours(f.at, r.At)), 1/float64(f.n+1))
	f.n = min(f.n+1, startUp+1)
	f.noise.take(x, float64(r.Gross), math.Max(noiseStart, noiseMost*float64(f.opt.House)), r.At)
	if stepSD > 0 {
		f.drift.interrupt()
	}
	d := f.drift.take(r, x, f.noise.sd)
	f.at, f.dry = r.At, false
	f.vetted = append(f.vetted, Vetted{
		At: r.At, Gross: unit.Grams(x), Drift: unit.Grams(d), Cell: f.drift.lag, Coef: f.drift.coef,
		SD: unit.Grams(f.noise.sd), Grain: unit.Grams(f.noise.step()), StepSD: unit.Grams(stepSD),
		ShiftSD: unit.Grams(shiftSD), Beside: f.steps.beside(r.At), Alone: f.alone, Ended: f.ended(x),
	})
	f.stepSD, f.shiftSD, f.alone = 0, 0, false
}

// gain is the share of a surprise that the level takes over after h hours: that of a steady Kalman filter whose level moves by a serving each quarter of an
// hour, so that one stray reading of a scale that scatters by more moves it little.
func (f *Filter) gain(h float64) float64 {
	s := f.serving()
	q, r := s*s*math.Max(1, 4*h), f.noise.sd*f.noise.sd
	p := (q + math.Sqrt(q*q+4*q*r)) / 2
	return math.Min(p/(p+r), follow)
}

// hold keeps r. Polls in quick succession take one place after the first two. The first stays when there are too many: how
// long a step has lasted is told from it.
func (f *Filter) hold(r Reading) {
	if f.np >= confirm && r.At.Sub(f.pend[f.np-2].At) < burstOfPolls {
		f.pend[f.np-1] = r
		return
	}
	if f.np == held {
		copy(f.pend[1:], f.pend[2:])
		f.np--
	}
	f.pend[f.np] = r
	f.np++
}

// burstOfPolls is the time within which polls count as one look.
const burstOfPolls = 2 * time.Minute

// lasting reports that a step down to gross mass m has been flat for at least half as long as it may have taken, an
// hour at most. Several polls within a minute agree on any fall, however fast gas escapes.
func (f *Filter) lasting(m float64, r Reading) bool {
	if m-f.steps.sum() > f.level || f.n < startUp || f.undone(m-f.steps.sum()-f.level, r.At) != 0 {
		return true
	}
	took := hours(f.at, f.pend[0].At)
	return hours(f.pend[0].At, r.At) >= math.Min(took, 2)/2
}

// doubt holds r back and looks whether the readings held so far explain themselves.
func (f *Filter) doubt(r Reading) {
	f.hold(r)
	f.trust.upset(r.At)
	switch {
	case f.np < 2:
	case f.lifted():
		f.off, f.np = true, 0
		f.tell(Lifted, r, r.At, 0, 0)
	case f.n > 0 && f.falling():
		l, _ := f.ramp()
		f.pace = -l.slope
		f.release(0, f.shiftSD)
	default:
		if m, k := f.settled(); k >= confirm && f.lasting(m, r) {
			f.resolve(r, m, k)
		} else if f.np == held {
			f.broken(r)
		}
	}
}

// lifted reports that the last two readings show an empty platform.
func (f *Filter) lifted() bool {
	a, b := f.pend[f.np-2], f.pend[f.np-1]
	return f.empty(a) && f.empty(b) && math.Abs(float64(a.Gross-b.Gross)) < agree*f.noise.sd+0.02*float64(f.opt.House)
}

// line is a straight line through the latest held readings.
type line struct {
	mean, t, slope float64 // value at hour t after the last ordinary reading, g/h
	slopeSD, worst float64 // of the slope; the largest distance of a reading from the line, g
}

// fit lays a line through the last k held readings.
func (f *Filter) fit(k int) line {
	var l line
	n := float64(k)
	p := f.pend[f.np-k : f.np]
	for _, r := range p {
		l.mean += f.cylinder(r) / n
		l.t += hours(f.at, r.At) / n
	}
	var tt, tx float64
	for _, r := range p {
		t := hours(f.at, r.At) - l.t
		tt += t * t
		tx += t * (f.cylinder(r) - l.mean)
	}
	l.slope, l.slopeSD = tx/tt, f.noise.sd/math.Sqrt(tt)
	for _, r := range p {
		l.worst = math.Max(l.worst, math.Abs(f.cylinder(r)-l.at(hours(f.at, r.At))))
	}
	return l
}

func (l line) at(t float64) float64 { return l.mean + l.slope*(t-l.t) }

// ramp finds a steady fall in the held readings, the longest first. Two readings do for a rate a leak may
// have; beyond Fastest, three are wanted, since two wild spikes can look like it.
func (f *Filter) ramp() (l line, k int) {
	for k := f.np; k >= 2; k-- {
		l := f.fit(k)
		switch {
		case -l.slope < sloping*l.slopeSD || l.worst > sloping*f.noise.sd:
		case k == 2 && -l.slope > Fastest:
		case f.cylinder(f.pend[f.np-1]) < f.house()-500:
		default:
			return l, k
		}
	}
	return line{}, 0
}

// falling reports that the held readings are a fall that began since the last ordinary reading: the line through
// them meets the level there or later. A step followed by a fall misses it.
func (f *Filter) falling() bool {
	l, k := f.ramp()
	last := f.pend[f.np-1]
	if k == 0 || k < f.np && k < confirm || f.undone(f.cylinder(last)-f.level, last.At) != 0 { // what stood beside it may just have been caught leaving
		return false
	}
	first := l.at(hours(f.at, f.pend[f.np-k].At))
	return l.at(0) > f.lowest()-agree*f.noise.sd && first < f.level+agree*f.noise.sd
}

// lowest is how low the cylinder may have stood at the last ordinary reading: the level lags behind a fall.
func (f *Filter) lowest() float64 { return math.Min(f.level, f.noise.last) }

// broken takes a full store of odd readings that neither agree nor fall from the level: a step and then a fall,
// or a scale gone wild.
func (f *Filter) broken(r Reading) {
	l, k := f.ramp()
	if k < confirm || f.n < startUp {
		f.wild++
		if f.wild > wildest {
			f.tell(Implausible, r, f.pend[0].At, 0, 0)
			f.wild, f.trust.wild = 0, true
			f.noise.reset()
			f.restart()
		}
		return
	}
	copy(f.pend[:], f.pend[f.np-k:f.np])
	f.np = k
	h := hours(f.at, f.pend[0].At)
	d := l.at(h) - l.slope*h/2 - f.lowest()
	f.shift(r, d, math.Hypot(f.noise.sd, l.slope*h/4))
}

// release passes all held readings on as they are.
func (f *Filter) release(stepSD, shiftSD float64) {
	n := f.np
	f.np = 0
	for i := range n {
		if x := f.cylinder(f.pend[i]); math.Abs(x-f.level) > gate*f.noise.sd {
			f.level = x
		}
		f.accept(f.pend[i], stepSD, shiftSD)
		stepSD, shiftSD = 0, 0
	}
}

// settled is the mean of the held readings that agree with the newest one, and how many these are. The
// others are taken out of the held ones.
func (f *Filter) settled() (mean float64, n int) {
	last := float64(f.pend[f.np-1].Gross)
	at := f.pend[f.np-1].At
	var sum float64
	for _, p := range f.pend[:f.np] {
		if math.Abs(float64(p.Gross)-last) <= agree*f.noise.sd+f.ceiling(0)/3+3*math.Min(hours(p.At, at), 12) {
			sum += float64(p.Gross)
			n++
		}
	}
	if n < confirm {
		return 0, n
	}
	return sum / float64(n), n
}

// keep leaves only those held readings that agree with mean.
func (f *Filter) keep(mean float64) {
	n := 0
	for _, p := range f.pend[:f.np] {
		if math.Abs(float64(p.Gross)-mean) <= (agree+2)*f.noise.sd+f.ceiling(0) {
			f.pend[n] = p
			n++
		}
	}
	f.np = n
}
