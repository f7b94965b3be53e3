package estimate

import "math"

// noise follows the white noise of an automatic scale: the running median of the absolute differences of consecutive
// readings, by stochastic approximation, so that outliers and steps count little.
type noise struct {
	last   float64
	have   bool
	logSD  float64
	n      float64
	coarse float64 // smallest step seen, g; 0: none yet
}

const noiseStart = 20 // g

// see takes a reading in g.
func (s *noise) see(y float64) {
	if s.n == 0 && !s.have {
		s.logSD = math.Log(noiseStart)
	}
	d := math.Abs(y - s.last)
	had := s.have
	s.last, s.have = y, true
	if !had {
		return
	}
	if d > 0.05 && (s.coarse == 0 || d < s.coarse) {
		s.coarse = d
	}
	s.n++
	gain := max(1.5/(2+s.n/4), 0.01)
	const medianOfDiff = 0.6744897501960817 * math.Sqrt2 // |N(0,1)-N(0,1)|
	if d > medianOfDiff*math.Exp(s.logSD) {
		s.logSD += gain
	} else {
		s.logSD -= gain
	}
	s.logSD = max(s.logSD, math.Log(0.1))
}

// forgetLast makes the next difference not count, after a step.
func (s *noise) forgetLast() { s.have = false }

// sd is the noise of one reading in g, at least that of rounding.
func (s *noise) sd() float64 {
	if s.n == 0 {
		return noiseStart
	}
	return max(math.Exp(s.logSD), s.rounding())
}

// rounding is the standard deviation of rounding to the scale's step.
func (s *noise) rounding() float64 {
	return min(s.coarse, 50) / math.Sqrt(12)
}

// sway follows what averaging the readings of some hours does not take away: a scale without a thermometer goes up and down with the
// warmth of the day. Gas does not come back, so it shows in what rises from one quarter of a day to the next: a sixth of the rises are
// larger than their standard deviation if nobody draws, fewer if somebody does, whose scale is then taken for steadier than it is.
type sway struct {
	log    float64 // ln of its standard deviation over the floor
	n      float64
	last   entry
	judged float64 // log by which the readings kept were judged last
}

const (
	aboveOneSD = 0.1587 // share of a normal distribution above one standard deviation
	swayStart  = 1.1    // log before anything is known: three times the floor
	judgeAnew  = 0.4    // change of log after which the readings kept are judged anew: by half
)

// see takes the next quarter, given the floor.
func (s *sway) see(e entry, floor float64) {
	before := s.last
	s.last = e
	if e.stepVar > 0 || !(e.t-before.t < 1.5*quarterDay) {
		return
	}
	s.n++
	gain := max(2/(1+s.n/4), 0.05)
	if rise := e.y - before.y; rise > 0 && rise*rise > e.r+before.r+2*math.Pow(s.sd(floor), 2) {
		s.log += gain * (1 - aboveOneSD)
	} else {
		s.log -= gain * aboveOneSD
	}
	s.log = min(max(s.log, 0), 5)
}

// changed reports, once, that the readings kept should be judged anew.
func (s *sway) changed() bool {
	if math.Abs(s.log-s.judged) < judgeAnew {
		return false
	}
	s.judged = s.log
	return true
}

// forgetLast makes the next rise not count, after a fill.
func (s *sway) forgetLast() { s.last.t = math.Inf(-1) }

// sd is the standard deviation, given the floor.
func (s *sway) sd(floor float64) float64 { return floor * math.Exp(s.log) }
