package signal

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Thresholds, in standard deviations of a reading unless said otherwise.
const (
	gate      = 6.0 // an ordinary reading lies within this of the level
	agree     = 5.0 // readings of one step lie within this of each other
	follow    = 0.5 // share of a surprise the level takes over: it must keep up with a party
	confirm   = 3   // readings that make a step
	startUp   = 3   // readings before steps are told
	fastest   = 2500.0
	smallest  = 60.0 // g, a step below this is not told
	fillShare = 0.3  // of a net fill: what must come in to be a fill after a lift-off
	fillAlone = 0.65 // and without one
)

// ceiling is the most that lively ordinary use may take within h hours, g: three servings at once, a
// serving every seven minutes for an hour, one every twelve for four hours more. A guess of ours at a party,
// common practice, no source; 12 g when the serving is not known.
func (f *Filter) ceiling(h float64) float64 {
	s := 12.0
	if f.opt.Serving > 0 {
		s = 1.3 * float64(f.opt.Serving)
	}
	return s * (3 + 9*math.Min(h, 1) + 5*math.Min(math.Max(h-1, 0), 4) + math.Min(0.5*math.Max(h-5, 0), 400))
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
	if e > up || e < -up-f.ceiling(h) || f.removed(e) {
		f.doubt(r)
		return
	}
	f.np = 0
	f.ripen(r)
	f.accept(r, f.stepSD)
	f.stepSD = 0
}

// removed reports that a fall of -e, which use might explain, is what stands beside the cylinder: better wait
// and see.
func (f *Filter) removed(e float64) bool {
	return e < -4*f.noise.sd && f.steps.objects(-e, 3*f.noise.sd)
}

// start takes the first reading, if it can be this cylinder at all; otherwise it waits for more.
func (f *Filter) start(r Reading) {
	if f.empty(r) || float64(r.Gross) > f.heaviest() {
		f.doubt(r)
		return
	}
	f.np = 0
	f.accept(r, 0)
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
func (f *Filter) accept(r Reading, stepSD float64) {
	x := f.cylinder(r)
	if f.n == 0 {
		f.level = x
	}
	f.level += (x - f.level) * math.Max(follow, 1/float64(f.n+1))
	f.n = min(f.n+1, startUp+1)
	f.noise.take(x, float64(r.Gross), r.At)
	if stepSD > 0 {
		f.drift.interrupt()
	}
	d := f.drift.take(r, x, f.noise.sd)
	f.at = r.At
	f.vetted = append(f.vetted, Vetted{
		At: r.At, Gross: unit.Grams(x), Drift: unit.Grams(d), Cell: f.drift.lag, Coef: f.drift.coef,
		SD: unit.Grams(f.noise.sd), Grain: unit.Grams(f.noise.step()), StepSD: unit.Grams(stepSD),
	})
}

// doubt holds r back and looks whether the readings held so far explain themselves.
func (f *Filter) doubt(r Reading) {
	if f.np == held {
		copy(f.pend[:], f.pend[1:])
		f.np--
	}
	f.pend[f.np] = r
	f.np++
	switch {
	case f.np < 2:
	case f.lifted():
		f.off, f.np = true, 0
		f.tell(Lifted, r, r.At, 0, 0)
	case f.n > 0 && f.falling():
		f.release(0)
	default:
		if m, k := f.settled(); k >= confirm {
			f.resolve(r, m, k)
		}
	}
}

// lifted reports that the last two readings show an empty platform.
func (f *Filter) lifted() bool {
	a, b := f.pend[f.np-2], f.pend[f.np-1]
	return f.empty(a) && f.empty(b) && math.Abs(float64(a.Gross-b.Gross)) < agree*f.noise.sd+0.02*float64(f.opt.House)
}

// falling reports that the held readings go down at about one rate: the first drop, which began some time
// within its interval, is no faster than the ones after it. Two readings do for a rate a leak may have;
// beyond fastest, three are wanted, since two wild spikes can look like it.
func (f *Filter) falling() bool {
	tol := 4 * math.Sqrt2 * f.noise.sd
	prev, at := f.level, f.at
	last := f.pend[f.np-1]
	rate := (f.cylinder(f.pend[f.np-2]) - f.cylinder(last)) / hours(f.pend[f.np-2].At, last.At)
	if rate > fastest && f.np < 3 || f.cylinder(last) < float64(f.opt.House)-500 {
		return false
	}
	for i, p := range f.pend[:f.np] {
		h, x := hours(at, p.At), f.cylinder(p)
		d := prev - x
		if d < tol && i > 0 || d < 0 || d > 1.4*rate*h+tol || i > 0 && d < 0.6*rate*h-tol {
			return false
		}
		prev, at = x, p.At
	}
	return true
}

// release passes all held readings on as they are.
func (f *Filter) release(stepSD float64) {
	n := f.np
	f.np = 0
	for i := range n {
		f.level = f.cylinder(f.pend[i])
		f.accept(f.pend[i], stepSD)
		stepSD = 0
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
