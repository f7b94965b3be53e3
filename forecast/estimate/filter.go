package estimate

import (
	"math"
	"slices"
	"time"

	"tarebell/forecast/unit"
)

// learnedVar is the variance of ln(use) below which the use counts as learned: within a factor of 1.6 in two of three (e to the root of it). A week
// must have been weighed, too: quiet days of work say little about the weekend.
const learnedVar, learnedDays = 0.25, 7

const (
	ringSize  = 128 // entries kept to be gone over again when something is told late
	snapshots = 6
)

// Filter is the running estimate. It uses constant memory. Feed it in order of time.
type Filter struct {
	opt     Options
	core    core
	noise   noise
	sway    sway
	batch   batch
	reports reports
	diary   diary

	ring  [ringSize]entry // the last entries, oldest first from head
	head  int
	count int
	total int // entries ever

	snap    [snapshots]core
	snapAt  [snapshots]int // total when taken; entries from there on come after it
	snapped int

	last float64 // s, latest time heard of

	// What follows is no state, and is not kept in checkpoints.
	zoneOff, zoneFrom, zoneTo float64    `checkpoint:"-"` // cached offset of the zone in s
	work                      core       `checkpoint:"-"` // scratch of State and Forecast
	sim                       *simulator `checkpoint:"-"`
}

// New starts an estimate that has seen nothing.
func New(o Options) *Filter {
	if o.Location == nil {
		o.Location = time.UTC
	}
	return &Filter{opt: o, sim: newSimulator(o.Seed), sway: sway{log: swayStart, judged: swayStart}}
}

// epoch is t in seconds of the Unix epoch.
func epoch(t time.Time) float64 { return float64(t.Unix()) + float64(t.Nanosecond())*1e-9 }

// zone is the offset of local time at epoch second s.
func (f *Filter) zone(s float64) float64 {
	if s >= f.zoneFrom && s < f.zoneTo {
		return f.zoneOff
	}
	const grid = 900 // s: divides every change of every zone's offset that is in use
	from := math.Floor(s/grid) * grid
	_, off := time.Unix(int64(from), 0).In(f.opt.Location).Zone()
	f.zoneFrom, f.zoneTo, f.zoneOff = from, from+grid, float64(off)
	return f.zoneOff
}

// Observe takes a reading. Readings that go back in time or are not finite are ignored.
func (f *Filter) Observe(o Observation) {
	t, y := epoch(o.At), float64(o.Gross)
	if t < f.last || math.IsNaN(y) || math.IsInf(y, 0) {
		return
	}
	f.last = t
	if o.Manual {
		f.flush()
		f.logs(logFew)
		f.enter(entry{t: t, kind: reading, y: y, r: float64(o.SD * o.SD), stepVar: float64(o.StepSD * o.StepSD), manual: true})
		return
	}
	k := math.Floor((t + f.zone(t)) / quarterDay)
	if f.batch.n > 0 && (k != f.batch.slot || o.StepSD > 0) {
		f.flush()
	}
	if o.StepSD > 0 {
		f.noise.forgetLast()
		f.batch.stepVar += float64(o.StepSD * o.StepSD)
	}
	f.noise.see(y)
	f.batch.slot = k
	f.batch.add(t, y, float64(o.SD))
}

// Right is the probability that the last reading entered was right, neither a slip nor about a cylinder of which all was believed wrongly.
func (f *Filter) Right() float64 { return f.core.right }

// flush closes the batch of readings.
func (f *Filter) flush() {
	if f.batch.n == 0 {
		return
	}
	e := f.batch.entry(&f.noise)
	f.batch = batch{}
	f.sway.see(e, f.opt.floorSD())
	f.enter(e)
	if f.sway.changed() {
		f.review(math.Inf(-1))
	}
	f.logs(logEnough)
}

// logs enters the servings logged so far if there are at least least.
func (f *Filter) logs(least float64) {
	if !f.core.started {
		return
	}
	if e, ok := f.diary.span(least); ok {
		e.t = math.Max(e.t, f.core.t)
		f.enter(e)
	}
}

// enter applies an entry, going back over later ones if it comes late.
func (f *Filter) enter(e entry) {
	if f.core.started && e.t < f.core.t && e.kind != reading {
		f.insert(e)
		return
	}
	f.push(e)
	f.keep(e.t)
	f.apply(&f.core, e)
}

// apply takes an entry into c, by what is known of the scale's sway now.
func (f *Filter) apply(c *core, e entry) {
	if e.kind == reading && !e.manual {
		c.sway = f.sway.sd(f.opt.floorSD())
		e.r += c.sway * c.sway
	}
	c.apply(&e, &f.opt, &f.reports, f.zone)
}

// Lost tells of gas g ± sd that left between two times and was not use. Told again with the same from, it replaces what was
// told before. It may be told late: the time since is gone over again.
func (f *Filter) Lost(from, to time.Time, g, sd unit.Grams) {
	a, b := epoch(from), epoch(to)
	if !(b > a) {
		b = a + 1
	}
	f.reports.addLoss(outflow{from: a, to: b, rate: float64(g) / (b - a), sd: float64(sd)})
	f.review(a)
}

// Losing tells what loss is believed to go on from the last observation until further notice; rate 0: none.
func (f *Filter) Losing(rate, sd unit.GramsPerHour) {
	f.flush()
	rep := &f.reports
	for i := range rep.loss[:rep.nl] {
		if l := &rep.loss[i]; l.open && math.IsInf(l.to, 1) {
			l.to = math.Max(f.last, l.from+1)
			if l.from >= f.last {
				rep.loss[i] = rep.loss[rep.nl-1]
				rep.nl--
			}
			break
		}
	}
	if rate > 0 {
		rep.addLoss(outflow{from: f.last, to: math.Inf(1), rate: float64(rate) / 3600, sd: float64(sd) * 24, open: true})
	}
}

// Filled tells that gas was put in. net 0: not said, a nominal fill is taken. house 0: the same cylinder; otherwise its
// tare and fittings.
func (f *Filter) Filled(at time.Time, net, house unit.Grams) {
	f.flush()
	f.sway.forgetLast()
	f.logs(logFew)
	m := float64(net)
	if net <= 0 {
		m = float64(f.opt.NetFill)
	}
	mean, sd := fillOf(m)
	f.last = math.Max(f.last, epoch(at))
	f.enter(entry{
		t: epoch(at), kind: filling, y: mean, r: sd * sd, house: math.Max(float64(house), 0),
		full: max(m, float64(f.opt.NetFill)), unsaid: net <= 0,
	})
}

// RanDry tells that the cylinder could no longer carbonate.
func (f *Filter) RanDry(at time.Time) {
	f.flush()
	f.logs(logFew)
	f.last = math.Max(f.last, epoch(at))
	f.enter(entry{t: epoch(at), kind: dryness})
}

// Away tells that nobody draws from at until until.
func (f *Filter) Away(at, until time.Time) {
	a := absence{epoch(at), epoch(until)}
	rep := &f.reports
	for i := range rep.gone[:rep.ng] {
		if rep.gone[i].at <= a.at && a.at < rep.gone[i].until {
			rep.gone[i].until = a.at
		}
	}
	if rep.ng == len(rep.gone) {
		copy(rep.gone[:], rep.gone[1:])
		rep.ng--
	}
	rep.gone[rep.ng] = a
	rep.ng++
	slices.SortFunc(rep.gone[:rep.ng], func(p, q absence) int {
		if p.at < q.at {
			return -1
		}
		return 1
	})
	f.review(a.at)
}

// Made tells that n servings were drawn. People log part of what they make, so it counts as logged.go says; it ends an absence
// told before.
func (f *Filter) Made(at time.Time, n float64) {
	t := epoch(at)
	if !(n > 0) || math.IsInf(n, 0) {
		return
	}
	for i := range f.reports.gone[:f.reports.ng] {
		if a := &f.reports.gone[i]; a.at < t && t < a.until {
			a.until = t
			f.review(t)
		}
	}
	f.diary.add(t, n)
	if f.batch.n == 0 {
		f.logs(logEnough)
	}
}

// present puts what is known at time t into f.work, pending readings included.
func (f *Filter) present(t float64) {
	f.work = f.core
	if f.batch.n > 0 {
		f.apply(&f.work, f.batch.entry(&f.noise))
	}
	d := f.diary
	if e, ok := d.span(logFew); ok && f.work.started {
		e.t = math.Max(e.t, f.work.t)
		f.apply(&f.work, e)
	}
	if f.work.started {
		f.work.to(t, &f.opt, &f.reports, f.zone)
	}
}

// State is what is known at now.
func (f *Filter) State(now time.Time) State {
	f.present(epoch(now))
	c := &f.work
	if !c.started {
		return State{NoiseSD: unit.Grams(f.noise.sd())}
	}
	g, pAway := c.mix.collapse()
	mean, v := g.level()
	v = math.Min(v, maxLogVar)
	use := math.Exp(math.Min(mean+v/2, mostLevel))
	return State{
		Known:   f.total > 0 || f.batch.n > 0,
		Gas:     held(Normal{g.m, math.Sqrt(math.Max(g.mm, 0))}, 0, c.most(&g)),
		Use:     Normal{use, use * math.Sqrt(math.Expm1(v))},
		Learned: v < learnedVar && c.t-c.since >= learnedDays*secondsDay,
		Watched: unit.Days(max(c.lastT-c.since, 0) / secondsDay),
		NoiseSD: unit.Grams(f.noise.sd()),
		Offset:  Normal{g.o, math.Sqrt(math.Max(g.oo, 0))},
		Away:    pAway,
		Ended:   c.mix.ended(float64(f.opt.Heel)),
	}
}
