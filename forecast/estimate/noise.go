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
