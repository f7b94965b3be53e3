package loss

import (
	"math"
	"time"
)

// hours is a bank of Page tests, one for each of rates. Each compares two Kalman filters for the level:
// one that knows only ordinary use, and one in which gas also leaves at its rate since some moment. When the
// evidence for a loss is used up, that filter starts again from the other.
//
// Use comes in servings, and parties are long, so what one hour may add to the evidence is bounded: least in
// the evening, most at night (a robust likelihood ratio in the sense of Huber 1965).
type hours struct {
	level float64 // without a loss, g
	p     float64 // variance of every filter's level, g²
	calm  float64 // mean square of standardised surprises at night: how far SD is off
	bank  [len(rates)]chain
}

// chain is one hypothesis.
type chain struct {
	level    float64
	evidence float64
	since    time.Time
	from     float64 // level at since
	usual    float64 // expected fall since then
	spread   float64 // variance of that, g²
	calm     float64 // evidence from quiet hours
	calmFor  float64 // and how many these were
}

// rates are the losses looked for, g/h.
var rates = [...]float64{6, 10, 17, 30, 55, 100}

const (
	hoursThreshold = 9.0
	jumpAt         = 5.0  // sigma: not steady, whatever it is
	leastLost      = 30.0 // g
	schooling      = 7.0  // days until the profile is trusted
	mostOnce       = 2.0  // evidence a single reading may add
	fewCalm        = 4.0  // h; a suspicion that has had more quiet hours must live on them, too:
	leastCalm      = 2.0  // the evidence they must have brought, since gas that escapes does so at night
	onsetShare     = 0.15 // of the time since it began, by which that is uncertain
)

// surprise is the square of the standardised surprise from which on the level is taken to be less known than
// thought, so that every filter follows at once. At night a loss must not be followed so.
var surprise = [...]float64{night: 12, daytime: 5, evening: 5}

// most is how much evidence an hour may add, by part of the day.
var most = [...]float64{night: 3.5, daytime: 1.2, evening: 0.6}

func (b *hours) reset() {
	*b = hours{calm: 1}
}

func (b *hours) restart(level, sd float64) {
	b.level, b.p = level, sd*sd
	for i := range b.bank {
		b.bank[i] = chain{level: level}
	}
}

// step takes a reading that is dt hours after the one before, when drift grams were expected to go.
func (b *hours) step(w *Watch, r Reading, dt, drift float64) {
	if dt <= 0 || dt > longGap {
		return
	}
	y, sd := float64(r.Gross), b.scatter(r, dt)
	spread := w.spread(r, dt)
	b.level -= drift
	b.p += spread + float64(r.StepSD*r.StepSD)
	s := b.p + sd*sd
	nu := y - b.level
	jump := math.Abs(nu) > jumpAt*math.Sqrt(s)
	if nu*nu > surprise[r.part]*s {
		b.p += nu*nu - s
	}
	k := b.p / (b.p + sd*sd)
	bound := math.Min(b.bound(w, r)*dt, mostOnce)
	for i := range b.bank {
		c := &b.bank[i]
		c.level -= drift + rates[i]*dt
		c.usual += drift
		c.spread += spread
		nu1 := y - c.level
		if !jump {
			e := math.Max(-4, math.Min((nu*nu-nu1*nu1)/(2*s), bound))
			c.evidence += e
			if r.part == night || r.Quiet {
				c.calm += e
				c.calmFor += dt
			}
		}
		c.level += k * nu1
	}
	b.level += k * nu
	b.p *= 1 - k
	if r.part == night {
		b.calm += (math.Min(nu*nu/s, 9)*b.calm - b.calm) / 500
		b.calm = math.Max(b.calm, 0.5)
	}
	for i := range b.bank {
		if c := &b.bank[i]; c.evidence <= 0 {
			*c = chain{level: b.level, since: r.At, from: b.level}
		}
	}
}

// lively is the variance an hour of use has at least, by part of the day, g²/h: guests may come to any
// household, and the level must have caught up with them before the night.
var lively = [...]float64{night: 0, daytime: 150, evening: 250}

// spread is the variance of ordinary use, servings at random and bunched, and of the scale's wandering in the
// dt hours up to r, g².
func (w *Watch) spread(r Reading, dt float64) float64 {
	s := 10.0
	if w.opt.Serving > 0 {
		s = float64(w.opt.Serving)
	}
	own := 2 * s * math.Max(w.profile.use, 3) / 24
	use := 0.0
	switch p := r.part; {
	case r.Quiet:
	case p == night:
		use = 0.05 * own
	default:
		use = math.Max(1.4*own, lively[p])
	}
	return (use + w.nights.roughness()) * dt
}

// scatter is one sigma of a reading, with a rounding error that stays counted as if it changed every two hours.
func (b *hours) scatter(r Reading, dt float64) float64 {
	sd, c := float64(r.SD), coarse(float64(r.SD), float64(r.Grain))
	return math.Sqrt(sd*sd*clip(b.calm, 4) + c*c*math.Max(0, math.Min(2/dt, 20)-1))
}

// bound is the evidence an hour may add now: little while the profile is still being learned.
func (b *hours) bound(w *Watch, r Reading) float64 {
	m := most[r.part]
	if r.Quiet {
		m = most[night]
	}
	return m * math.Min(1, (w.profile.days+1)/(schooling+1))
}

// test reports the loss with the most evidence, if that is enough.
func (b *hours) test(w *Watch, r Reading) (Found, bool) {
	best := 0
	for i := range b.bank {
		if b.bank[i].evidence > b.bank[best].evidence {
			best = i
		}
	}
	c := &b.bank[best]
	if c.evidence < hoursThreshold+w.wary {
		return Found{}, false
	}
	h := r.At.Sub(c.since).Hours()
	lost := c.from - b.level - c.usual - w.logged.between(c.since, r.At)
	if c.calmFor > fewCalm && c.calm < leastCalm {
		return Found{}, false
	}
	if lost < leastLost || h <= 0 || lost/h < rates[0]/2 || !w.burst.still(w, lost/h) {
		return Found{}, false
	}
	sd := math.Sqrt(c.spread + 2*b.p)
	return Found{
		Kind: kindOf(lost / h), Since: c.since, Lost: grams(lost), LostSD: grams(sd),
		Rate: perHour(lost / h), RateSD: perHour(math.Hypot(sd, onsetShare*lost) / h),
	}, true
}

// kindOf calls a loss slow that takes a day or more for a party's worth of gas.
func kindOf(rate float64) Kind {
	if rate < 8 {
		return Slow
	}
	return Abrupt
}
