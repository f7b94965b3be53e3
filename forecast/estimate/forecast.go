package estimate

import (
	"cmp"
	"math"
	"slices"
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
	seed   uint64
	z      [3][draws]float64 // stratified normals for the present state
	lump   [draws]float64    // and for the lumpiness of use
	dry    []unit.Days
	out    []unit.Days
	order  [draws]int
	weight [draws]float64
	steps  []step
	moves  [maxNodes]transitions

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
	r := rng{seed}
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
func stratify(z *[draws]float64, r *rng) {
	for i := range z {
		z[i] = normalQuantile((float64(i) + 0.5) / draws)
	}
	for i := draws - 1; i > 0; i-- {
		j := r.below(i + 1)
		z[i], z[j] = z[j], z[i]
	}
}

// Forecast is the distribution of the time from now until the net gas has fallen to dry (liquid-dry) and to heel (run-out).
// The zero Distributions mean that nothing is known yet.
func (f *Filter) Forecast(now time.Time, heel, dry unit.Grams) (liquidDry, runOut runout.Distribution) {
	t := epoch(now)
	f.present(t)
	if !f.work.started || f.total == 0 && f.batch.n == 0 {
		return runout.Distribution{}, runout.Distribution{}
	}
	s := f.sim
	s.dry, s.out = make([]unit.Days, 0, draws), make([]unit.Days, 0, draws)
	s.run(&f.work, &f.reports, f.zone(t), float64(heel), math.Max(float64(dry), float64(heel)))
	s.reweigh(f.work.lean(&f.opt))
	return runout.FromDraws(s.dry), runout.FromDraws(s.out)
}

// reweigh draws anew from the futures, each of y days to run-out with the weight (1+y)^-a. What is told is judged, and acted on, when a share of the gas is
// left rather than on a random day: of the households that look alike, those that use twice as much pass through a gram in half the days. And
// being ten days off matters as a share of what is left: quantiles of p(y)/y are those that make the loss over y least. A day is added, since within
// one nobody acts.
func (s *simulator) reweigh(a float64) {
	n, sum := len(s.out), 0.0
	order := s.order[:n]
	for i, y := range s.out {
		order[i] = i
		s.weight[i] = math.Pow(1+float64(y), -a)
		sum += s.weight[i]
	}
	if !(sum > 0) {
		return
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(s.out[a], s.out[b]) })
	k, seen := 0, s.weight[order[0]]
	dry, out := s.dry, s.out
	s.dry, s.out = make([]unit.Days, n), make([]unit.Days, n)
	for i := range n {
		for k < n-1 && seen < sum*(float64(i)+0.5)/float64(n) {
			k++
			seen += s.weight[order[k]]
		}
		s.dry[i], s.out[i] = dry[order[k]], out[order[k]]
	}
}

// lean is the power by which futures are weighed. It rises by half with the share of what was not known about the level that has been learned, for at the
// beginning all stand alike at a full cylinder; half of it is for who types weights, days apart, so that the gas has passed through a share unseen.
// The halves are no theory: powers of 0, 1/2, 1 and 3/2 were compared on invented households.
func (c *core) lean(o *Options) float64 {
	_, sd := o.levelPrior()
	_, v, _ := c.mix.level()
	a := max(1-v/(sd*sd), 0) / 2
	if c.typed {
		a += 0.5
	}
	return a
}

// run simulates draws futures from systematic draws of the hypotheses.
func (s *simulator) run(c *core, rep *reports, zone, heel, dry float64) {
	i, sum := 0, 0.0
	s.weigh(c, zone)
	future := &future{r: rng{s.seed + 1}, tab: s.tab, steps: s.steps, hab: &c.hab}
	future.loss, future.lossSD = rep.losing(c.t)
	future.back = (rep.absent(c.t) - c.t) / secondsDay
	pooled, _ := c.mix.collapse()
	most := max(c.most(&pooled), heel+1)
	at := 0
	c.mix.each(func(nd *node, k mode, w float64) {
		sum += w
		if float64(i)+0.5 >= sum*draws {
			return
		}
		for &c.mix.node[at] != nd {
			at++
		}
		tr := &s.moves[at]
		tr.prepare(nd.parameters, s.steps)
		l := cholesky(&nd.g[k])
		for ; i < draws && float64(i)+0.5 < sum*draws; i++ {
			st := l.draw(&nd.g[k], s.z[0][i], s.z[1][i], s.z[2][i])
			st.m = min(st.m, most)
			if st.m <= heel && !c.empty && i%forgotten != 0 {
				l.alive(&st, s.z[2][i], heel, most)
			}
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
			st.w, _ = c.pat.effective(from, from+st.dt*secondsDay, &c.pat.day)
		}
	}
}

// losing is the loss believed to be going on at t, in g/day.
func (rep *reports) losing(t float64) (rate, sd float64) {
	for i := range rep.loss[:rep.nl] {
		if l := &rep.loss[i]; l.open && l.from <= t && t < l.to {
			rate, sd = rate+l.rate*secondsDay, l.sd
		}
	}
	return rate, sd
}
