package signal

import (
	"math"
	"math/bits"
	"slices"
	"time"

	"tarebell/forecast/demand"
)

// steps are the shifts now taken out of every reading, oldest first: things standing beside the cylinder
// (positive), a platform re-zeroed or a fitting taken off (negative).
type steps struct {
	mass  [4]float64
	since [4]time.Time
	n     int
	fixed float64 // steps too old to be undone
}

func (s *steps) sum() float64 {
	t := s.fixed
	for _, m := range s.mass[:s.n] {
		t += m
	}
	return t
}

func (s *steps) clear() { *s = steps{} }

// shifted is by how much the zero of the platform is thought to be off: all but what stands beside the cylinder.
func (s *steps) shifted() float64 {
	t := s.fixed
	for _, m := range s.mass[:s.n] {
		t += math.Min(m, 0)
	}
	return t
}

// beside reports that something was put beside the cylinder less than goesAgain before t.
func (s *steps) beside(t time.Time) bool {
	for i, m := range s.mass[:s.n] {
		if m > smallest && t.Sub(s.since[i]) < goesAgain {
			return true
		}
	}
	return false
}

// lately reports that the latest step came less than goesAgain before t.
func (s *steps) lately(t time.Time) bool { return s.n > 0 && t.Sub(s.since[s.n-1]) < goesAgain }

// goesAgain is within what time most of what is put beside a cylinder is taken away again: what stands there for two days stays. Common practice, no
// source.
const goesAgain = 48 * time.Hour

// add adds a step; the oldest becomes permanent when there are too many.
func (s *steps) add(d float64, at time.Time) {
	if s.n == len(s.mass) {
		s.fixed += s.mass[0]
		s.drop(0)
	}
	s.mass[s.n], s.since[s.n] = d, at
	s.n++
}

// drop forgets step i, so that it is not taken out any more.
func (s *steps) drop(i int) {
	copy(s.mass[i:], s.mass[i+1:s.n])
	copy(s.since[i:], s.since[i+1:s.n])
	s.n--
}

// undoneBy finds the open steps, as a set of bits, that a step of d takes back: to within tol and a hundredth
// of it, and within used more if gas was drawn meanwhile. 0: none.
func (s *steps) undoneBy(d, tol, used float64) (set uint) {
	best := math.Inf(1)
	for k := uint(1); k < 1<<s.n; k++ {
		m := s.of(k)
		gap := m + d
		if m*d >= 0 || gap > tol+0.01*math.Abs(m) || gap < -tol-0.01*math.Abs(m)-used {
			continue
		}
		if cost := math.Abs(gap) + tol*float64(bits.OnesCount(k)-1); cost < best {
			best, set = cost, k
		}
	}
	return set
}

// objects reports whether one of the open steps upwards has a mass of m to within tol, or, if it came lately before t, up to used less.
func (s *steps) objects(m, tol, used float64, t time.Time) bool {
	for i, x := range s.mass[:s.n] {
		most := tol
		if t.Sub(s.since[i]) < goesAgain {
			most += used
		}
		if gap := m - x; x > 0 && gap > -tol && gap < most {
			return true
		}
	}
	return false
}

// of is the mass of a set of steps.
func (s *steps) of(set uint) float64 {
	t := 0.0
	for i, m := range s.mass[:s.n] {
		if set&(1<<i) != 0 {
			t += m
		}
	}
	return t
}

// dropAll forgets a set of steps.
func (s *steps) dropAll(set uint) {
	for i := s.n - 1; i >= 0; i-- {
		if set&(1<<i) != 0 {
			s.drop(i)
		}
	}
}

// resolve names the step to mean, a gross mass that n held readings agree on.
func (f *Filter) resolve(r Reading, mean float64, n int) {
	f.keep(mean)
	d := mean - f.steps.sum() - f.level
	if d < 0 {
		d = math.Min(0, mean-f.steps.sum()-f.lowest())
	}
	sd := f.noise.sd * math.Sqrt(1/float64(n)+1/3.)
	if f.n < startUp {
		f.restart()
		return
	}
	f.shift(r, f.sinceDry(d), sd)
}

// sinceDry is a step of d seen from an empty cylinder, if somebody said that it ran dry and it is full by now: nobody saw it empty, then.
func (f *Filter) sinceDry(d float64) float64 {
	if x := f.level + d; f.dry && f.full(x, x-f.house()) {
		f.level = f.house()
		return x - f.level
	}
	return d
}

// shift names a step of d ± sd, takes it out, and passes the held readings on.
func (f *Filter) shift(r Reading, d, sd float64) {
	since := f.pend[0].At
	f.trust.step(r.At)
	f.lastFall = lastFall{}
	was := f.refilled(f.level + d + f.steps.sum())
	set := f.undone(d, r.At)
	all, some := f.leaves(d, r.At)
	if set == 0 && !some {
		f.suspect(d)
	}
	step, shift := sd, sd
	if set != 0 { // what both steps differ by may be the error of either
		step = math.Hypot(sd, f.steps.of(set)+d)
	}
	switch {
	case set != 0 && f.steps.of(set) > 0:
		f.tell(ObjectOff, r, since, d, sd)
		was := f.steps.beside(since)
		f.steps.dropAll(set)
		f.possibleFill.may = f.possibleFill.may && !f.possibleFill.alone // what was thought to have left stood there until now
		if was && !f.steps.beside(since) {
			shift, f.alone = 0, true
		}
	case set == 0 && some:
		f.tell(FillGone, r, since, d, sd)
		if i := slices.Index(f.steps.mass[:f.steps.n], f.lastFill.beside); all && i >= 0 {
			f.steps.drop(i)
			f.level += f.lastFill.beside
		}
		f.lastFill = lastFill{}
		f.level += d
		shift = 0
	case set != 0:
		f.tell(Step, r, since, d, sd)
		f.steps.dropAll(set)
	case d > smallest:
		f.steps.add(d, since)
		full := f.full(f.level+d, d)
		f.possibleFill = possibleFill{since: since, mass: d, may: full || was, alone: !full && was}
		if f.possibleFill.may && (f.silent() || f.expects(since)) { // it was lifted off and put back meanwhile
			f.fill(r, since)
			step, shift = 0, placing
			break
		}
		f.tell(ObjectOn, r, since, d, sd)
	case d < -smallest && f.batch(d):
		step, shift = f.took(r, since, d, sd)
	case d < -smallest && (f.empties(d) || f.unseen(r, d)):
		f.lastFall = lastFall{mass: d, sd: sd, since: since}
		if f.empties(d) {
			f.lastFall.since = f.at
			f.tell(Emptied, r, since, d, sd)
		} else {
			f.tell(Fell, r, since, d, sd)
		}
		f.level += d
		step, shift = -d, 0
	case d < -smallest:
		f.tell(Step, r, since, d, sd)
		f.steps.add(d, since)
	default:
		f.steps.add(d, since)
	}
	f.release(step, shift)
}

// batches are what the household was seen to draw at one stroke, between two readings: a keg, a crate of bottles.
type batches struct {
	n    int
	most float64 // g
}

func (b *batches) add(m float64) { b.n, b.most = b.n+1, math.Max(b.most, m) }

const (
	// oneBatch is the most that may be drawn at one stroke by who never was seen to, g. A keg of 19 l, the common size, takes some 8 g a litre and what its
	// head space holds. Common practice, no source. Nobody draws more than a tenth of a fill so; ours.
	oneBatch   = 200.0
	batchShare = 0.1
	batchAgain = 1.5  // how much larger than those before a batch may be; ours
	batchDoubt = 0.35 // of the first one: a zero may have moved after all, once in seven times; ours
)

// batch reports that a fall of -d, of a scale that behaves and beside which nothing changed lately, is likelier drawn at one stroke than a zero that moved or a fitting
// taken off: it is small enough, or like what was drawn so before, or it comes for the second time.
func (f *Filter) batch(d float64) bool {
	t := &f.trust
	switch fastest := demand.Paces[len(demand.Paces)-1]; {
	case -d > fastest*hours(f.at, f.pend[0].At), t.wild || t.unsure || t.rough || t.odd > 1.5, f.steps.lately(f.at), f.silent(), f.level+d < f.house()-f.light():
		return false
	case -d <= batchAgain*f.batches.most || f.usual(-d) || f.alike(d) >= 0:
		return true
	}
	most := oneBatch
	if f.opt.NetFill > 0 {
		most = math.Min(most, batchShare*float64(f.opt.NetFill))
	}
	return -d <= most
}

// took takes a batch of -d, and one like it that was taken for a shifted zero before. Only the first is told, so only that one can be answered. It returns how uncertain the step and the zero are.
func (f *Filter) took(r Reading, since time.Time, d, sd float64) (step, shift float64) {
	seen, usual := math.Min(-d, oneBatch), f.usual(-d)
	step = -d
	if i := f.alike(d); i >= 0 {
		f.level += f.steps.mass[i]
		step -= f.steps.mass[i]
		seen = -d
		f.steps.drop(i)
	}
	f.level += d
	if usual {
		return step, 0
	}
	if f.batches.n == 0 {
		f.tell(Fell, r, since, d, sd)
		f.lastFall = lastFall{mass: d, sd: sd, since: since, batch: true}
		shift = batchDoubt * -d
	}
	f.batches.add(seen)
	return step, shift
}

// usual reports that m g are no more than four times what the household draws at these hours of the week on average.
func (f *Filter) usual(m float64) bool {
	if f.opt.Use == nil {
		return false
	}
	first, flow := &f.pend[0], 0.0
	h := hours(f.at, first.At)
	for t := 0.0; t < h; t++ {
		flow += f.opt.Use.Flow(math.Mod(first.Hour-t+week, week)) * math.Min(h-t, 1)
	}
	return m <= lively*flow
}

// lively is how many times its average a household may draw in some hours; ours.
const lively = 4

// week is the hours of one.
const week = 168.0

// alike is the latest open step downwards that was about as large as d, -1 if there is none: what comes again is drawn.
func (f *Filter) alike(d float64) int {
	for i := f.steps.n - 1; i >= 0; i-- {
		if m := f.steps.mass[i]; m > -2*oneBatch && m < -smallest && m > batchAgain*d && d > batchAgain*m {
			return i
		}
	}
	return -1
}

// empties reports that a fall of -d, in no less time than a leak takes for it, leaves an empty cylinder: what is taken off the platform, or changes its zero,
// hardly weighs just what gas there was. Of several things that stand beside it one may.
func (f *Filter) empties(d float64) bool {
	return -d > 0.1*float64(f.opt.NetFill) && -d < Fastest*hours(f.at, f.pend[0].At) && f.ended(f.level+d) && f.steps.sum() <= f.steps.shifted()
}

// ended reports that a cylinder that weighs x is empty, as far as its tare and fittings are known.
func (f *Filter) ended(x float64) bool { return math.Abs(x-f.house()) < f.light() }

// light is by how much an empty cylinder may seem lighter or heavier than it should be.
func (f *Filter) light() float64 {
	const tare, share, scatter = 50, 0.02, 3 // g; of a fill; sigma; ours
	return tare + share*float64(f.opt.NetFill) + scatter*f.noise.sd
}

// unseen reports that a fall of -d came in a silence so long, and left so much, that it can be gas: what is drawn or lost is likelier
// than that somebody changed something just then, unless somebody did just before.
func (f *Filter) unseen(r Reading, d float64) bool {
	left := f.level + d - f.house()
	return f.silent() && left > -f.slack() && !f.steps.beside(f.at)
}

// silent reports that the odd readings came after a long silence.
func (f *Filter) silent() bool { return hours(f.at, f.pend[0].At) >= longSilence }

// longSilence is the hours without a reading after which a fall may be gas that nobody saw go, and a rise a fill that nobody saw: a night and a meal. Ours.
const longSilence = 12

// undone finds the open steps that a step of d, settled by now, takes back. What was drawn meanwhile goes with them.
func (f *Filter) undone(d float64, now time.Time) uint {
	used := f.ceiling(hours(f.at, now))
	if d > 0 && !f.silent() { // a zero that comes back is rarer than something that is put beside the cylinder
		used /= 4
	}
	return f.steps.undoneBy(d, 4*f.noise.sd+5, used)
}

// restart begins anew from the held readings: the ones before were too few to say what is ordinary.
func (f *Filter) restart() {
	f.n = 0
	f.level = f.cylinder(f.pend[0])
	f.begin(f.level)
	f.release(0, 0)
}

// possibleFill is a step upwards that would make the cylinder full. Something put beside a nearly empty one may
// weigh as much; but it does not stay.
type possibleFill struct {
	may   bool
	since time.Time
	mass  float64
	alone bool // full only if nothing stands beside it: what stood there left meanwhile
}

// staying is how long a step upwards must stay, without a lift-off having been seen, to be a fill.
const staying = 72 * time.Hour

// full reports that a step of d up to mean makes a nearly empty cylinder full, to within a twentieth; after a long silence, or where a refill is booked, one that
// is not nearly empty, too.
func (f *Filter) full(mean, d float64) bool {
	fill, share, drawn := float64(f.opt.NetFill), fillAlone, 0.0
	switch now := f.pend[0].At; {
	case f.expects(now):
		share = fillBooked
		drawn = f.ceiling(hours(f.at, now))
	case f.silent():
		share = fillShare
	}
	off := mean - f.house() - fill
	return d > share*fill && off < 0.05*fill+100 && off > -0.05*fill-100-drawn
}

// expects reports that a refill is booked for about now: what comes onto the scale is likelier that than anything else.
func (f *Filter) expects(now time.Time) bool {
	const early, late = 36 * time.Hour, 5 * 24 * time.Hour // from the noon of its day; ours
	d := now.Sub(f.booked)
	return !f.booked.IsZero() && d > -early && d < late
}

// least is the share of a fill that must come in at least to be a fill: less where one is booked.
func (f *Filter) least(now time.Time) float64 {
	if f.expects(now) {
		return fillBooked
	}
	return fillShare
}

// ripen takes the step that has stayed for a fill.
func (f *Filter) ripen(r Reading) {
	if f.possibleFill.may && r.At.Sub(f.possibleFill.since) >= staying {
		f.fill(r, r.At)
	}
}

// fill takes the step that may be one for a fill at since.
func (f *Filter) fill(r Reading, since time.Time) {
	p := &f.possibleFill
	p.may = false
	for i, m := range f.steps.mass[:f.steps.n] {
		if m == p.mass && f.steps.since[i].Equal(p.since) {
			f.steps.drop(i)
			if p.alone {
				m += f.steps.sum()
				f.clear()
				f.zero = 0
			}
			f.level += m
			f.brought(r, since, m, 0, f.noise.sd)
			return
		}
	}
}

// brought tells of a fill of mass d, with something beside it.
func (f *Filter) brought(r Reading, since time.Time, d, beside, sd float64) {
	f.tell(Fill, r, since, d, sd)
	f.lastFill = lastFill{mass: d, beside: beside, at: r.At}
	f.booked = time.Time{}
}

// await takes a reading while the cylinder is off the platform.
func (f *Filter) await(r Reading) {
	if f.empty(r) {
		f.np = 0
		return
	}
	f.hold(r)
	if f.np < 2 {
		return
	}
	a, b := f.pend[f.np-2], f.pend[f.np-1]
	if f.np < 4 && math.Abs(float64(a.Gross-b.Gross)) > (agree+1)*f.noise.sd+f.ceiling(0) {
		return
	}
	f.pend[0], f.pend[1], f.np = a, b, 2
	f.back(r, float64(a.Gross+b.Gross)/2)
}

// without is what is left of a step of d without those open steps that explain it best, and the set of these.
func (f *Filter) without(d float64) (rest float64, set uint) {
	rest = d
	for k := uint(1); k < 1<<f.steps.n; k++ {
		if x := d + f.steps.of(k); math.Abs(x) < math.Abs(rest) {
			rest, set = x, k
		}
	}
	return rest, set
}

const placing = 10 // g: a cylinder put back never stands just where it stood

// fullOver is where the zero is if a cylinder of gross mass mean is full: where it is thought to be, or, if that does not fit to within tol, where some of
// the open steps leave it, if that does.
func (f *Filter) fullOver(mean, tol float64) float64 {
	off := func(zero float64) float64 { return math.Abs(mean - float64(f.opt.House+f.opt.NetFill) - zero) }
	zero := f.zero + f.steps.shifted()
	if off(zero) <= tol {
		return zero
	}
	for k := range uint(1) << f.steps.n {
		if z := f.zero + f.steps.fixed + f.steps.of(k); off(z) <= tol && off(z) < off(zero) {
			zero = z
		}
	}
	return zero
}

// back judges what came back onto the platform, of gross mass mean: the same cylinder, alone or with what
// stood beside it, one with more gas, or with something changed.
func (f *Filter) back(r Reading, mean float64) {
	f.off = false
	since := f.pend[0].At
	if f.n == 0 {
		f.begin(mean)
		f.tell(Returned, r, since, 0, 0)
		f.release(0, f.shiftSD)
		return
	}
	tol := gate*f.noise.sd + 20
	low := -tol - f.ceiling(hours(f.at, r.At))
	fill := float64(f.opt.NetFill)
	d := f.sinceDry(mean - f.steps.sum() - f.level)
	brings := d > f.least(since)*fill && f.level+d < f.house()+1.1*fill
	if rest, set := f.without(d); !brings || rest >= low && rest <= tol { // a fill is likelier than that all else ended and something new began
		d = rest
		f.steps.dropAll(set)
	}
	sd := math.Hypot(f.noise.sd, placing)
	step, shift := sd, sd
	f.tell(Returned, r, since, d, sd)
	switch {
	case f.refilled(mean):
		f.clear()
		f.zero = 0
		f.brought(r, since, mean-f.level, 0, sd)
		step, shift = 0, placing
	case d >= low && d <= tol:
		shift = placing
	case d > f.least(since)*fill && mean < f.heaviest()+0.5*fill:
		zero := f.fullOver(mean, 0.05*fill+tol)
		f.clear()
		f.shiftSD, f.zero = math.Hypot(f.shiftSD, zero-f.zero), zero
		more := mean - f.house() - fill
		if more > 0.05*fill+tol { // something stands beside it
			f.steps.add(more, since)
			d -= more
			f.trust.unsure, f.trust.known = true, false
		} else {
			more = 0
		}
		f.brought(r, since, d, more, sd)
		step, shift = 0, placing
	case d > 0:
		f.steps.add(d, since)
		f.tell(ObjectOn, r, since, d, sd)
	default:
		f.steps.add(d, since)
		f.tell(Step, r, since, d, sd)
	}
	f.release(step, math.Hypot(shift, f.shiftSD))
}
