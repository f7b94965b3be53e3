package estimate

import "math"

// core is everything an entry changes. It holds no pointers: assigning it takes a snapshot.
type core struct {
	mix        mixture
	hab        habits
	pat        pattern
	t          float64 // s of the Unix epoch the mixture stands at
	started    bool
	since      float64    // s, when it started
	empty      bool       // somebody said it ran dry
	fresh      bool       // just filled, and nobody said how much
	typedNoise typedNoise // scatter of typed weights
	typed      bool       // the last reading was typed
	right      float64    // probability that the last reading was right
	rose       float64    // s, when readings last rose far above what was believed
	house      float64
	fixed      bool    // away spell entered
	lastY      float64 // last observation, net of house
	lastR      float64
	lastT      float64
	haveY      bool
	nightY     float64
	nightR     float64
	nightD     float64 // local day of the last night's level
	awayDay    float64 // days spent away, and days in all, with the prior's worth
	allDay     float64
	logged     bool // servings were logged: κ is part of the state
	lastLog    float64
	filled     float64 // s, when gas was last put in
	full       float64 // g, the most that can be in the cylinder
	sway       float64 // g, by how much the scale goes up and down with the day
}

// entryKind tells what an entry is.
type entryKind int

const (
	reading entryKind = iota
	filling
	dryness
	logging
)

// entry is one thing that happened, in the order of time.
type entry struct {
	t       float64
	kind    entryKind
	y, r    float64 // reading: gross and variance; filling: net and variance; logging: servings
	from    float64 // logging: s of the Unix epoch, since when
	house   float64 // filling: tare and fittings of another cylinder; 0: the same
	stepVar float64
	manual  bool
	full    float64 // filling: the most there can be
	unsaid  bool    // filling: nobody said how much
}

// apply moves to the entry and takes it in.
func (c *core) apply(e *entry, o *Options, rep *reports, zone func(float64) float64) {
	if !c.started {
		c.begin(e, o)
	}
	c.to(e.t, o, rep, zone)
	switch e.kind {
	case reading:
		c.read(e, o, rep, zone)
	case filling:
		c.fill(e, o)
	case dryness:
		c.dry(float64(o.Heel), c.astray(e.t))
	case logging:
		c.log(e, o, rep, zone)
	}
}

// begin starts from the prior at the first entry.
func (c *core) begin(e *entry, o *Options) {
	net := max(float64(o.NetFill), 1)
	c.mix = o.start(net/2, net*net/12)
	c.hab = defaultHabits()
	c.pat = newPattern()
	c.house = float64(o.House)
	c.t, c.since, c.started = e.t, e.t, true
	c.awayDay, c.allDay = stayDays*leave*stay/(1+leave*stay), stayDays
	c.full = net
	c.typedNoise = typedNoise{variance: math.Pow(o.typedSD(), 2), n: typedNoiseWorth}
}

// to moves the mixture to time t in steps of at most a day.
func (c *core) to(t float64, o *Options, rep *reports, zone func(float64) float64) {
	for c.t < t {
		step := min(t-c.t, secondsDay)
		if t-c.t > 400*secondsDay {
			step = t - c.t - 399*secondsDay
		}
		c.step(step, o, rep, zone(c.t))
	}
}

// step moves the mixture by at most a day.
func (c *core) step(dt float64, o *Options, rep *reports, zone float64) {
	from, to := c.t, c.t+dt
	s := interval{dt: dt / secondsDay, forced: -1}
	s.drift = math.Pow(o.driftSD(c.sway), 2) * s.dt
	s.w, s.patVar = c.pat.effective(from+zone, to+zone, &c.pat.day)
	if c.mix.initial {
		s.free, _ = c.pat.effective(from+zone, to+zone, &weekends)
	}
	if c.empty {
		s.w, s.free = 0, 0
	}
	s.out, s.outVar = rep.lost(from, to)
	s.outVar += s.out * s.out // the weighings say how much went; a loss told says that it was no use
	first := false
	if until := rep.absent((from + to) / 2); until > 0 {
		s.forced, first = 0.97, !c.fixed
		c.fixed = true
	} else if c.fixed {
		s.ended, c.fixed = true, false
	}
	rate := c.awayDay / c.allDay
	c.hab.leave = rate * c.hab.back / (1 - rate)
	c.mix.advance(s, &c.hab, first)
	c.t = to
}

// read takes a reading.
func (c *core) read(e *entry, o *Options, rep *reports, zone func(float64) float64) {
	y := e.y - c.house
	for i := range c.mix.node[:c.mix.n] {
		for k := range c.mix.node[i].g {
			c.mix.node[i].g[k].oo += e.stepVar
		}
	}
	gap := max(e.t-c.lastT, 0) / secondsDay
	if !c.haveY {
		gap = 0
	}
	sees := measurement{y: y, r: e.r, full: c.full, gross: o.full()}
	sees.astray = c.astray(e.t)
	if c.fresh {
		sees.astray, sees.open, c.fresh = 0.5, true, false
	}
	if sees.slip, sees.off = sees.astray, zeroOff; e.manual {
		sees.slip, sees.off = slipShare, 0 // who steps onto a scale zeroes it
		if sees.r == 0 {
			sees.r = c.typedNoise.variance
		}
	}
	c.typed = e.manual
	before, _ := c.mix.collapse()
	if off := y - before.m - before.o; !e.manual && off*off > 9*(before.mm+2*before.mo+before.oo+sees.r) {
		if off > 0 {
			c.rose = e.t
		}
		sees.back = e.t-c.rose < backDays*secondsDay
		if off < 0 && c.haveY && gap < seenDays && e.stepVar == 0 && !sees.back && !sees.open {
			sees.astray, sees.slip = unseen*sees.astray, unseen*sees.slip
		}
	}
	c.right = c.mix.observe(sees)
	if e.manual {
		c.typedNoise.learn(y-before.m-before.o, before.mm+2*before.mo+before.oo, c.right)
	}
	e.r = sees.r
	c.learn(e, y, gap, rep, zone(e.t))
	c.lastY, c.lastR, c.lastT, c.haveY = y, e.r, e.t, true
	if c.mix.initial {
		c.settle(o)
	}
}

// settle branches into hypotheses about the parameters once the level is known: because all hypotheses agree on it, or because the weekdays seen do. Their mean
// also knows the level of those who draw on one day of the week.
func (c *core) settle(o *Options) {
	g, pAway := c.mix.collapse()
	if c.mix.settled() {
		c.mix.branch(o, g, pAway, c.mix.lumpiness())
	} else if use, phi, ok := c.pat.level(); ok {
		u, v := logNormal(use)
		g.restart(u, v, 0)
		c.mix.branch(o, g, pAway, phi)
	}
}

// learn keeps the shared habits: the week's pattern, the share of days away.
func (c *core) learn(e *entry, y, gap float64, rep *reports, zone float64) {
	if e.stepVar > 0 || !c.haveY {
		c.nightD = 0
		return
	}
	mean, v, pAway := c.mix.level()
	if !c.mix.initial && gap < 3 {
		const memory = 700
		keep := math.Exp(-gap / memory)
		c.awayDay = c.awayDay*keep + pAway*gap
		c.allDay = c.allDay*keep + gap
	}
	if e.manual {
		c.nightD = 0
		return
	}
	if gap < 0.4 && !c.mix.initial {
		level := math.Exp(mean + min(v, maxLogVar)/2)
		out, _ := rep.lost(c.lastT, e.t)
		_, q, _ := slot((c.lastT+e.t)/2 + zone)
		c.pat.learnPart(q, (c.lastY-y-out)/level)
	}
	local := e.t + zone
	day := math.Floor(local / secondsDay)
	if local-day*secondsDay < quarterDay {
		if day-c.nightD == 1 {
			out, _ := rep.lost(e.t-secondsDay, e.t)
			wd, _, _ := slot(local - secondsDay/2)
			c.pat.learnDay(wd, c.nightY-y-out)
		}
		c.nightY, c.nightR, c.nightD = y, e.r, day
	}
}

// fill puts gas in, into the same cylinder or another one.
func (c *core) fill(e *entry, o *Options) {
	swapped, offset := e.house > 0, o.offsetSD()
	if !swapped && o.Swapped && c.filled > 0 {
		swapped, offset = true, math.Hypot(offset, swapShare*c.house)
	}
	for i := range c.mix.node[:c.mix.n] {
		for k := range c.mix.node[i].g {
			g := &c.mix.node[i].g[k]
			g.m, g.mm, g.mo, g.mu, g.mx, g.mk = e.y, e.r, 0, 0, 0, 0
			if swapped {
				g.o, g.oo, g.ou, g.ox, g.ok = 0, offset*offset, 0, 0, 0
			}
		}
	}
	if e.house > 0 {
		c.house = e.house
	}
	c.fresh, c.empty, c.haveY, c.nightD, c.filled = e.unsaid, false, false, 0, e.t
	c.full = e.full
}

// most is the most gas there can be at c.t, given the moments of the whole mixture: no more than the last reading showed, two standard deviations above it, since people only
// take out. A reading of less than a day ago says so itself.
func (c *core) most(g *gauss) float64 {
	if !c.haveY || c.right < 0.5 || c.t-c.lastT < secondsDay {
		return c.full
	}
	return min(max(c.lastY-g.o+2*math.Sqrt(c.lastR+max(g.oo, 0)), 1), c.full)
}

// dry notes that the cylinder ran dry now: what is left is the heel, either by use or because gas went unseen, of which astray is the prior
// probability.
func (c *core) dry(heel, astray float64) {
	const sd = 20
	c.empty = true
	for i := range c.mix.node[:c.mix.n] {
		nd := &c.mix.node[i]
		for k := range nd.g {
			nd.w[k] *= nd.g[k].ranDry(heel, sd*sd, astray, c.full)
		}
	}
	c.mix.normalise()
}

// astray is the probability that what is believed of the gas has gone wrong unseen since the last reading, at time t.
func (c *core) astray(t float64) float64 {
	gap := 0.0
	if c.haveY {
		gap = max(t-c.lastT, 0) / secondsDay
	}
	return min(astrayPerYear*max(gap, 0.25)/365.25, 0.5)
}
