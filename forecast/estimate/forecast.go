package estimate

import (
	"math"
	"time"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

const (
	draws     = 480
	forgotten = 20       // one draw in so many allows for a dry cylinder nobody told of
	horizon   = 60 * 366 // days looked ahead
	fadeDays  = 700      // lasting changes of the level fade in this time, so that decades ahead stay within reason
)

// simulator holds what every forecast needs and no forecast changes, and room to work in.
type simulator struct {
	seed  uint64
	z     [3][draws]float64 // stratified normals for the present state
	lump  [draws]float64    // and for the lumpiness of use
	dry   []unit.Days
	out   []unit.Days
	steps []step
	laws  [maxNodes]transitions

	weight []float64 // of the draws in what is told

	tab *tables
}

// step is one stretch of the future.
type step struct {
	t, dt  float64 // days ahead at its start, length
	w      float64 // effective days, set for each forecast
	wander float64 // sd of what μ moves
	fade   float64 // share of a lasting change that is still there a step later
}

func newSimulator(seed uint64) *simulator {
	s := &simulator{seed: seed, tab: newTables()}
	r := chance{seed}
	for k := range s.z {
		stratify(&s.z[k], &r)
	}
	stratify(&s.lump, &r)
	for t := 0.0; t < horizon; {
		dt := math.Max(1, t/9)
		s.steps = append(s.steps, step{t: t, dt: dt, fade: math.Exp(-dt / fadeDays)})
		t += dt
	}
	return s
}

// stratify fills z with the quantiles of a standard normal in random order.
func stratify(z *[draws]float64, r *chance) {
	for i := range z {
		z[i] = normalQuantile((float64(i) + 0.5) / draws)
	}
	for i := draws - 1; i > 0; i-- {
		j := r.below(i + 1)
		z[i], z[j] = z[j], z[i]
	}
}

// Dates are the forecasts of one moment: the time from then until the net gas has fallen so far.
//
// A posterior holds day by day: of all the days on which it is asked, it is right as often as it says. Who uses little lives through more of
// these days, so asked once a cylinder, when a given share of the gas is left, the same posterior says too late, by a fifth in the
// beginning; weighted by the use exp(λ), as a random gram sees it (Palm's distribution of a point process), it would be right there and too
// early for who looks every week. What is told goes half-way, weighted by exp(λ/2). A decision that is taken on the first day on which the
// posterior says so needs the posterior as it is (optional stopping).
//
// The zero Dates mean that nothing is known yet.
type Dates struct {
	LiquidDry, RunOut runout.Distribution // to be told
	Daily             runout.Distribution // the run-out, to decide by
}

// toMark is how far what is told goes from the view of a random day (0) to that of a random gram (1).
const toMark = 0.5

// Dates forecasts the time from now until the net gas has fallen to dry (liquid-dry) and to heel (run-out).
func (f *Filter) Dates(now time.Time, heel, dry unit.Grams) Dates {
	if !f.foresee(now, heel, dry) {
		return Dates{}
	}
	s := f.sim
	return Dates{
		LiquidDry: runout.FromWeighted(s.dry, s.weight),
		RunOut:    runout.FromWeighted(s.out, s.weight),
		Daily:     runout.FromDraws(s.out),
	}
}

// Forecast is what Dates would decide by, of liquid-dry and run-out.
func (f *Filter) Forecast(now time.Time, heel, dry unit.Grams) (liquidDry, runOut runout.Distribution) {
	if !f.foresee(now, heel, dry) {
		return runout.Distribution{}, runout.Distribution{}
	}
	return runout.FromDraws(f.sim.dry), runout.FromDraws(f.sim.out)
}

// foresee fills the simulator with futures from now on; false: nothing is known.
func (f *Filter) foresee(now time.Time, heel, dry unit.Grams) bool {
	t := epoch(now)
	f.present(t)
	if !f.work.started || f.total == 0 && f.batch.n == 0 {
		return false
	}
	s := f.sim
	s.dry, s.out, s.weight = make([]unit.Days, 0, draws), make([]unit.Days, 0, draws), s.weight[:0]
	s.run(&f.work, &f.told, f.zone(t), float64(heel), math.Max(float64(dry), float64(heel)))
	return true
}

// run simulates draws futures from systematic draws of the hypotheses.
func (s *simulator) run(c *core, td *told, zone, heel, dry float64) {
	i, sum := 0, 0.0
	s.weigh(c, zone)
	future := &future{r: chance{s.seed + 1}, tab: s.tab, steps: s.steps, hab: &c.hab}
	future.loss, future.lossSD = td.losing(c.t)
	future.back = (td.absent(c.t) - c.t) / secondsDay
	at := 0
	c.mix.each(func(nd *node, k mode, w float64) {
		sum += w
		if float64(i)+0.5 >= sum*draws {
			return
		}
		for &c.mix.node[at] != nd {
			at++
		}
		tr := &s.laws[at]
		tr.prepare(nd.law, s.steps)
		l := cholesky(&nd.g[k])
		for ; i < draws && float64(i)+0.5 < sum*draws; i++ {
			st := l.draw(&nd.g[k], s.z[0][i], s.z[1][i], s.z[2][i])
			if st.m <= heel && !c.empty && i%forgotten != 0 {
				l.alive(&st, s.z[2][i], heel)
			}
			s.weight = append(s.weight, exp(toMark*(st.u+st.x)))
			d, o := future.walk(nd, tr, k, st, s.lump[i], heel, dry)
			s.dry, s.out = append(s.dry, unit.Days(d)), append(s.out, unit.Days(o))
		}
	})
}

// weigh sets the effective days of the steps ahead.
func (s *simulator) weigh(c *core, zone float64) {
	for i := range s.steps {
		st := &s.steps[i]
		st.w = st.dt
		st.wander = math.Sqrt(c.hab.wander * st.dt)
		if st.dt <= 21 {
			from := c.t + zone + st.t*secondsDay
			st.w, _ = c.pat.effective(from, from+st.dt*secondsDay)
		}
	}
}

// losing is the loss believed to be going on at t, in g/day.
func (td *told) losing(t float64) (rate, sd float64) {
	for i := range td.loss[:td.nl] {
		if l := &td.loss[i]; l.open && l.from <= t && t < l.to {
			rate, sd = rate+l.rate*secondsDay, l.sd
		}
	}
	return rate, sd
}
