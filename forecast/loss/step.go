package loss

import "time"

// mean gathers the readings of a step.
type mean struct {
	from     time.Time
	base     float64
	n, y, t  float64 // readings, sums of g above base and of s after from
	variance float64 // of one reading, g²
	bias     float64 // variance that does not average out, g²
	quiet    bool
	hour     float64 // of the last reading
	last     time.Time
}

func (s *mean) add(r Reading) {
	if s.n == 0 {
		s.from, s.base = r.At, float64(r.Gross)
	}
	c := coarse(float64(r.SD), float64(r.Grain))
	s.n, s.y, s.t = s.n+1, s.y+float64(r.Gross)-s.base, s.t+r.At.Sub(s.from).Seconds()
	s.variance, s.bias, s.quiet, s.hour, s.last = float64(r.SD*r.SD), c*c, r.Quiet, r.Hour, r.At
}

func (s *mean) mass() float64 { return s.base + s.y/s.n }
func (s *mean) time() time.Time {
	return s.from.Add(time.Duration(s.t / s.n * float64(time.Second)))
}
