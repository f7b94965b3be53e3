package loss

import (
	"math"
	"time"
)

// nights judges the slope of each quiet night against the household's own past nights. Warmth that comes and
// goes every day bends every night alike; a loss does not.
//
// A night's slope b is normal around the household's usual slope μ, with variance v from the readings'
// scatter and τ² from everything else. For each of slowRates a Page test adds up the log likelihood ratio of
// "μ - g since some night" over "μ as ever", with μ unknown in both and estimated as the nights come.
type nights struct {
	sums   slope
	usual  float64 // μ, g/h
	p      float64 // its variance
	tau2   float64 // τ², (g/h)²
	excess float64 // mean of what nights scatter beyond the rest; τ² unless that is too small
	n      float64
	alarms float64 // tolerated, per year
	bank   [len(slowRates)]suspicion
	days   daily
	s2     EWMA // variance of a night's surprise, lately, (g/h)²
	losing bool // a loss is believed: nights are not learned from
}

type suspicion struct {
	usual    float64 // μ if it is true
	evidence float64
	since    time.Time
	n        int     // nights since then
	sum      float64 // of their slopes
	day      float64 // g/day, usual fall of a day when it began
	days     int     // days since then
	fell     float64 // sum of their falls, g
}

// slope is a running regression of mass on time.
type slope struct {
	from, to            time.Time
	n, st, sy, stt, sty float64
	sd, coarse          float64
}

// slowRates are the losses looked for, g/h.
var slowRates = [...]float64{1, 1.6, 2.5, 4, 6.3, 10}

const (
	usualSD      = 3.0  // g/h: warmth bends nights by less than this
	wander       = 0.02 // g/h a night, of the usual slope
	tauStart     = 0.6
	tauFloor     = 0.3
	tauMemory    = 60.0
	wildest      = 3.5 // sigma, what one night may say
	leastPoints  = 5
	fewestNights = 8 // before any suspicion: a loss from the very first night looks like warmth
	leastSpan    = 210 * time.Minute
	longest      = 9 * time.Hour
	nightHours   = 7.0
)

// DefaultFalseAlarms is the default rate of false alarms of the test on nights, per household and year.
const DefaultFalseAlarms = 0.05

func (s *nights) reset(alarms float64) {
	if alarms <= 0 {
		alarms = DefaultFalseAlarms
	}
	*s = nights{p: usualSD * usualSD, tau2: tauStart * tauStart, excess: tauStart * tauStart, alarms: alarms}
}

// drop forgets the running night.
func (s *nights) drop() { s.sums = slope{} }

// forgive forgets all suspicion.
func (s *nights) forgive() {
	s.drop()
	for i := range s.bank {
		s.bank[i] = suspicion{usual: s.usual}
	}
}

func (s *slope) add(r Reading) {
	if s.n == 0 {
		s.from = r.At
	}
	t := r.At.Sub(s.from).Hours()
	y := float64(r.Gross)
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
	if r.part != night {
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
	from, to := s.sums.from, s.sums.to
	sums := s.sums
	s.sums = slope{}
	if !ok {
		return 0, false
	}
	fell, day := s.days.next(&sums, s.losing)
	v += s.tau2
	if s.losing {
		return (s.usual - b) / math.Sqrt(s.p+v), true
	}
	s.p += wander * wander
	z = s.weigh(b, v, from, to)
	if day {
		s.count(fell)
	}
	return z, true
}

// weigh adds a night of slope b, with variance v, to the evidence and to what is usual. It returns how many
// sigma the night fell faster than usual.
func (s *nights) weigh(b, v float64, from, to time.Time) float64 {
	S := s.p + v
	if s.s2.E == 0 {
		s.s2 = EWMA{Lambda: 0.1, E: S}
	}
	s.s2.Add(S)
	sd := math.Sqrt(S)
	nu := clipTo(b-s.usual, wildest*sd)
	k := s.p / S
	for i := range s.bank {
		c := &s.bank[i]
		if c.n == 0 {
			c.usual, c.since, c.day = s.usual, from, s.days.mean
		}
		nu1 := clipTo(b-(c.usual-slowRates[i]), wildest*sd)
		c.evidence += (nu*nu - nu1*nu1) / (2 * S)
		c.usual += k * nu1
		c.n++
		c.sum += b
		if c.evidence <= 0 || c.stale(slowRates[i]/sd) || s.n < fewestNights {
			*c = suspicion{}
		}
	}
	s.usual += k * nu
	s.p *= 1 - k
	s.n++
	s.excess += (nu*nu - S + s.tau2 - s.excess) / tauMemory
	s.tau2 = math.Max(s.excess, tauFloor*tauFloor)
	return -nu / sd
}

// roughness is the wandering of the scale that would bend nights by τ, g²/h: a random walk of variance q an
// hour gives the least-squares slope over T hours the variance 6q/(5T).
func (s *nights) roughness() float64 { return s.tau2 * 5 / 6 * nightHours }

func clipTo(x, most float64) float64 { return math.Max(-most, math.Min(x, most)) }

// stale reports a suspicion of a loss of delta sigma that has had twice the nights a 4 sigma slope would have
// taken and still proves nothing. What is usual has by then been learned to fit it; a later beginning must get
// its chance.
func (c *suspicion) stale(delta float64) bool {
	return float64(c.n) > 32/(delta*delta)+10 && c.evidence < 4
}

// count adds a day's fall to every suspicion.
func (s *nights) count(fell float64) {
	for i := range s.bank {
		if c := &s.bank[i]; c.n > 0 {
			c.days++
			c.fell += fell
		}
	}
}

// test reports a loss with enough evidence.
func (s *nights) test(w *Watch, r Reading) (Found, bool) {
	sd := math.Sqrt(s.s2.E)
	for i := len(s.bank) - 1; i >= 0; i-- {
		c := &s.bank[i]
		limit := Threshold(slowRates[i]/sd, s.alarms/float64(len(s.bank))/365.25)
		more, known := s.days.evidence(c, slowRates[i])
		if c.evidence+more < math.Max(limit-known, leastNights)+w.wary || c.n < 2 {
			continue
		}
		return s.report(c, slowRates[i], r), true
	}
	return Found{}, false
}

func (s *nights) report(c *suspicion, g float64, r Reading) Found {
	h := r.At.Sub(c.since).Hours()
	rate := math.Max(c.usual-c.sum/float64(c.n), g/2)
	sd := math.Sqrt(s.s2.E/float64(c.n) + s.p)
	s.usual = c.usual
	return Found{
		Kind: Slow, Since: c.since, Lost: grams(rate * h), LostSD: grams(sd * h), Rate: perHour(rate), RateSD: perHour(sd),
	}
}
