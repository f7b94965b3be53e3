package loss

import (
	"math"
	"time"
)

// nights judges the slope of each quiet night against the household's own past nights. Warmth that comes and
// goes every day bends every night alike; a loss does not.
//
// A night's slope b is normal around the household's usual slope μ, with variance v from the readings' scatter and τ²
// from everything else. A Kalman filter follows μ; onsets judge its surprises.
type nights struct {
	sums    slope
	usual   float64 // μ, g/h
	p       float64 // its variance
	tau2    float64 // τ², (g/h)²
	excess  float64 // mean of what nights scatter beyond the rest; τ² unless that is too small
	seen    float64 // g/h seen to be drawn at night, lately
	share   float64 // of the variance expected that nights really show: rounding errors repeat less than feared
	n       float64
	alarms  float64 // tolerated, per year
	serving float64 // g
	shifted float64 // g/h, by how much its nights have shifted without a loss, as the household said or as what was told stopped by itself, fading
	onsets  onsets
	days    daily
	s2      EWMA // variance of a night's surprise, lately, (g/h)²
	losing  bool // a loss is believed: nights are not learned from
}

// slope is a running regression of mass on time.
type slope struct {
	from, to            time.Time
	n, st, sy, stt, sty float64
	drawn               float64 // Σ of what was seen to be drawn before each reading, g
	first, latest       float64 // the same before the first and the last, g
	sd, coarse          float64
}

const (
	usualSD       = 3.0  // g/h: warmth bends nights by less than this
	wander        = 0.02 // g/h a night, of the usual slope
	tauStart      = 0.6
	tauFloor      = 0.3
	tauMemory     = 60.0
	startNights   = 5.0 // that the expected variance counts for
	leastShare    = 0.05
	seenMemory    = 30.0 // nights
	unseenShare   = 0.25 // of what scatters nights that is use; the rest is warmth and the scale's own
	wildest       = 3.5  // sigma, what one night may say
	leastPoints   = 5
	fewestNights  = 8 // before any suspicion: a loss from the very first night looks like warmth
	leastSpan     = 210 * time.Minute
	longest       = 9 * time.Hour
	nightHours    = 7.0
	shiftedMemory = 365.0 // nights
)

// nightsOnly is the share of its rate of false alarms at which the test on nights alone is set: that the days may lower
// its threshold doubles them (Curve).
const nightsOnly = 0.5

func (s *nights) reset(alarms, serving float64) {
	if alarms <= 0 {
		alarms = DefaultFalseAlarms
	}
	*s = nights{p: usualSD * usualSD, tau2: tauStart * tauStart, excess: tauStart * tauStart, share: 1, alarms: alarms, serving: serving}
}

// drop forgets the running night.
func (s *nights) drop() { s.sums = slope{} }

// forgive forgets all suspicion.
func (s *nights) forgive() {
	s.drop()
	s.onsets = onsets{}
}

func (s *slope) add(r Reading) {
	if s.n == 0 {
		s.from = r.At
	}
	t := r.At.Sub(s.from).Hours()
	y := float64(r.Gross) + r.drawn
	s.drawn += r.drawn
	if s.n == 0 {
		s.first = r.drawn
	}
	s.latest = r.drawn
	s.to, s.sd, s.coarse = r.At, float64(r.SD), coarse(float64(r.SD), float64(r.Grain))
	s.n++
	s.st += t
	s.sy += y
	s.stt += t * t
	s.sty += t * y
}

// fit is the slope, g/h, and its variance. A rounding error that does not average out counts as if there were
// three readings in all.
func (s *slope) fit() (b, v float64, ok bool) {
	if s.n < leastPoints || s.to.Sub(s.from) < leastSpan {
		return 0, 0, false
	}
	tt := s.stt - s.st*s.st/s.n
	h := s.to.Sub(s.from).Hours()
	return (s.sty - s.st*s.sy/s.n) / tt, s.sd*s.sd/tt + 4*s.coarse*s.coarse/(h*h), true
}

// add takes a reading. When it ends a quiet night, ended is true and z says how many sigma the night fell
// faster than usual.
func (s *nights) add(r Reading) (z float64, ended bool) {
	if r.StepSD > 0 || s.sums.n > 0 && r.At.Sub(s.sums.to) > 3*time.Hour {
		z, ended = s.close()
	}
	if !r.night {
		if !ended {
			z, ended = s.close()
		}
		return z, ended
	}
	if s.sums.n > 0 && r.At.Sub(s.sums.from) > longest {
		z, ended = s.close()
	}
	// Offsets from the first reading keep the sums well conditioned.
	s.sums.add(r)
	return z, ended
}

// close judges the night that has ended.
func (s *nights) close() (z float64, ok bool) {
	b, v, ok := s.sums.fit()
	from := s.sums.from
	sums := s.sums
	s.sums = slope{}
	if !ok {
		return 0, false
	}
	s.shifted *= 1 - 1/shiftedMemory
	day := s.days.next(&sums, s.losing)
	v += s.tau2
	if s.losing {
		return (s.usual - b) / math.Sqrt(s.p+v), true
	}
	s.p += wander * wander
	z = s.weigh(b, v, from)
	s.seen += ((sums.latest-sums.first)/sums.to.Sub(sums.from).Hours() - s.seen) / seenMemory
	if day {
		s.onsets.pass()
	}
	return z, true
}

// weigh adds a night of slope b, with variance v, to the evidence and to what is usual. It returns how many
// sigma the night fell faster than usual.
func (s *nights) weigh(b, v float64, from time.Time) float64 {
	v *= s.share
	S := s.p + v
	if s.s2.E == 0 {
		s.s2 = EWMA{Lambda: 0.1, E: S}
	}
	s.s2.Add(S)
	sd := math.Sqrt(S)
	nu := clipTo(b-s.usual, wildest*sd)
	k := s.p / S
	if s.n >= fewestNights {
		s.onsets.add(onset{since: from, day: s.days.mean, own: s.own()})
	}
	s.onsets.surprised(nu, S, k)
	s.usual += k * nu
	s.p *= 1 - k
	s.n++
	memory := math.Min(s.n+startNights, tauMemory)
	s.share += s.share * (math.Min(nu*nu/S, 4) - 1) / memory
	s.share = math.Min(math.Max(s.share, leastShare), 1)
	s.excess += (nu*nu - S + s.tau2 - s.excess) / memory
	s.tau2 = math.Max(s.excess, tauFloor*tauFloor)
	return -nu / sd
}

// roughness is the wandering of the scale that would bend nights by τ, g²/h: a random walk of variance q an
// hour gives the least-squares slope over T hours the variance 6q/(5T).
func (s *nights) roughness() float64 { return s.tau2 * 5 / 6 * nightHours }

func clipTo(x, most float64) float64 { return math.Max(-most, math.Min(x, most)) }

// test reports a loss with enough evidence. That the household's own nights shifted explains what they show by as far as they may, yet by no more than
// twice what they might before, since a loss looks like use at night, and by no more than was drawn on the whole; but by as much as they did shift without a loss.
func (s *nights) test(w *Watch, r Reading) (Found, bool) {
	const most = 2
	limit := glrThreshold(s.alarms * nightsOnly / 365.25)
	for i := range s.onsets.all() {
		c := &s.onsets.of[i]
		own := max(min(s.own(), most*c.own, max(c.day, leastUse)/24), s.shifted)
		habit := c.habit(own)
		if c.nights < fewestSince || c.most()-habit+mostSupport < leastNights+w.raised {
			continue // most end here
		}
		evidence, known := c.verdict(&s.days, habit)
		for i := range evidence {
			if evidence[i] >= math.Max(limit-known[i], leastNights)+w.raised {
				return s.report(r), true
			}
		}
	}
	return Found{}, false
}

// own is by how much the household's nights may shift for weeks, g/h: a share of what it draws at night. Servings drawn at random at a mean rate F scatter the slope
// of a night of T hours by τ² ≈ F·s/T, s g each.
func (s *nights) own() float64 {
	return s.seen + usualWander*unseenShare*s.tau2*nightHours/s.serving
}

// report weighs every onset and rate by its evidence. What was usual before is usual again once the loss ends.
func (s *nights) report(r Reading) Found {
	var best, sum, rate, rate2, lost, lost2, drawn float64
	f := Found{Kind: Slow}
	for i := range s.onsets.all() {
		c := &s.onsets.of[i]
		h := r.At.Sub(c.since).Hours()
		evidence, _ := c.verdict(&s.days, 0)
		for i, g := range slowRates {
			p := math.Exp(evidence[i])
			if p > best && c.nights >= fewestSince {
				best, f.Since = p, c.since
			}
			sum += p
			rate, rate2 = rate+p*g, rate2+p*g*g
			lost, lost2 = lost+p*g*h, lost2+p*g*h*g*h
			drawn += p * g * c.f
		}
	}
	rate, lost = rate/sum, lost/sum
	s.usual -= drawn / sum
	f.Rate, f.RateSD = perHour(rate), perHour(math.Sqrt(rate2/sum-rate*rate))
	f.Lost, f.LostSD = grams(lost), grams(math.Sqrt(lost2/sum-lost*lost))
	return f
}
