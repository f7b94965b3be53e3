package signal

import (
	"math"
	"time"
)

// noise learns how much a single reading scatters, from the differences of consecutive ones: for
// independent normal errors the mean of |x₁-x₂| is 2σ/√π.
type noise struct {
	sd    float64 // g, 1 sigma
	mad   float64 // mean absolute difference
	n     float64
	last  float64
	raw   float64 // the last reading as it came
	at    time.Time
	grain float64 // smallest difference seen: the resolution
}

const (
	noiseStart  = 30.0  // g, before anything is known
	noiseMemory = 300.0 // readings
	noiseFloor  = 0.5   // g
	noiseMost   = 0.03  // of the empty cylinder: what scatters more is no weighing
)

func (s *noise) reset() {
	*s = noise{sd: noiseStart, mad: noiseStart * 2 / math.Sqrt(math.Pi), n: 2, grain: math.Inf(1)}
}

// take learns from the next ordinary reading, x of the cylinder alone, raw on the display. Differences over more than two hours hold use and drift and
// are left out; single large ones are cut to what four sigma would give, and sigma to most.
func (s *noise) take(x, raw, most float64, at time.Time) {
	d, g := math.Abs(x-s.last), math.Abs(raw-s.raw)
	h := hours(s.at, at)
	s.last, s.raw, s.at = x, raw, at
	if s.n > 2 && g > 1e-6 && g < math.Min(s.grain, most) && math.Abs(g-d) < 1e-6 { // what something weighs that was put there is no step of the scale
		s.grain = g
	}
	if h > 2 || s.n == 2 && s.grain == math.Inf(1) && d > 10*noiseStart {
		return
	}
	d = math.Min(d, 4*math.Sqrt2*s.sd)
	s.n = math.Min(s.n+1, noiseMemory)
	s.mad += (d - s.mad) / s.n
	s.mad = math.Min(s.mad, most*2/math.Sqrt(math.Pi))
	s.sd = math.Max(s.mad*math.Sqrt(math.Pi)/2, noiseFloor)
	if !math.IsInf(s.grain, 1) {
		s.sd = math.Max(s.sd, s.grain/math.Sqrt(12))
	}
}

// step is the resolution, 0 while unknown.
func (s *noise) step() float64 {
	if math.IsInf(s.grain, 1) {
		return 0
	}
	return s.grain
}

// stuck notices a scale that repeats itself for longer than its own habit of repeating explains.
type stuck struct {
	value  float64
	since  time.Time
	run    int
	repeat float64 // share of readings that equal the one before
	n      float64
	told   bool
}

// stuckOdds is the chance of so long a run, given how often readings repeat, below which it is told.
const stuckOdds = 1e-9

// watch looks at the raw reading, whatever it was about.
func (f *Filter) watch(r Reading) {
	s := &f.stuck
	x := float64(r.Gross)
	if s.n > 0 && x == s.value {
		s.run++
	} else {
		s.count()
		s.value, s.since, s.run, s.told = x, r.At, 0, false
	}
	if s.told || f.off || hours(s.since, r.At) < 12 || s.n < 100 {
		return
	}
	p := math.Max(s.repeat, 0.5)
	if float64(s.run)*math.Log(p) < math.Log(stuckOdds) && s.run >= 24 {
		s.told = true
		f.tell(Stuck, r, s.since, 0, 0)
	}
}

// count learns the share of repeats from a run that has ended.
func (s *stuck) count() {
	for range min(s.run, 500) {
		s.add(1)
	}
	s.add(0)
}

func (s *stuck) add(x float64) {
	s.n = math.Min(s.n+1, 2000)
	s.repeat += (x - s.repeat) / s.n
}
