package simulated

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"tarebell/forecast/unit"
)

// Scale is how a scale errs. A reading at t is
//
//	round((gross + object + K·(T(t−lag)−20) + z(t) − c·ΔL·exp(−(t−t_L)/τ) + σε + spike) / res)·res
//
// with gross 0 while the cylinder is lifted; z is the zero, a random walk pulled back to 0
// (z' = 0.97z + w·ε a day, interpolated); ΔL the last change of load by a kilogram or more, at t_L, whose
// creep dies away with τ = 20 min; a spike comes with the chance given and is uniform within ±SpikeSize.
type Scale struct {
	Noise      unit.Grams    // σ, 1 sd
	Resolution unit.Grams    // res
	PerKelvin  unit.Grams    // K
	Lag        time.Duration // of the cell behind the air
	Wander     unit.Grams    // w, sd a day
	Creep      float64       // c, fraction of the change of load
	Spikes     float64       // chance of a reading
	SpikeSize  unit.Grams
	Bumps      float64 // objects put on the platform, a day: 200 to 3000 g for 2 to 60 min
	Gaps       float64 // silences a day: exponential, mean GapMean
	GapMean    time.Duration
}

// LoadCell is four load cells and a converter in an ordinary room. Creep is 0.02 % of the load, inside the
// 0.0166 to 0.06 % in 30 min of data sheets of industrial beam cells; the rest is common practice, no source.
func LoadCell() Scale {
	return Scale{Noise: 8, Resolution: 1, PerKelvin: 3, Lag: time.Hour, Wander: 2, Creep: 0.0002,
		Spikes: 0.0005, SpikeSize: 2000, Bumps: 0.05, Gaps: 0.01, GapMean: 6 * time.Hour}
}

const creepTime = 20 * time.Minute

// scale is a Scale at work.
type scale struct {
	Scale
	opt Options

	pcg   rand.PCG
	noise *rand.Rand // seeded anew for every reading
	rng   *rand.Rand // zero, objects, silences

	day        int // of the zero and what is drawn for a day
	zero, next float64
	bumps      []object
	silent     []span

	lifted  span
	loadAt  time.Time
	loadBy  float64
	loaded  float64
	lastAsk time.Time
	asks    uint64
}

// object is something on the platform.
type object struct {
	span
	mass float64
}

func newScale(o Options) *scale {
	s := &scale{Scale: o.Scale, opt: o, rng: stream(o.Seed, scaleStream), day: -1}
	s.noise = rand.New(&s.pcg)
	return s
}

// load tells of the mass on the platform from t on, so that it creeps. A lifted cylinder loads it when it is
// put back.
func (s *scale) load(t time.Time, gross float64) {
	d := gross - s.loaded
	if s.lifted.holds(t) {
		t, d = s.lifted.to, gross
	}
	if math.Abs(d) >= 1000 {
		s.loadAt, s.loadBy = t, d
	}
	s.loaded = gross
}

func (s *scale) happen(i Incident) {
	w := i.while()
	switch i.What {
	case ScaleSilent:
		s.silent = append(s.silent, w)
	case ObjectOn:
		s.bumps = append(s.bumps, object{w, float64(i.Mass)})
	case Lifted:
		s.lifted = w
	default:
		panic("simulated: unknown happening " + string(i.What))
	}
}

// read is what the scale says at t with gross on it.
func (s *scale) read(t time.Time, gross float64) (Reading, bool) {
	s.catchUp(t)
	for _, x := range s.silent {
		if x.holds(t) {
			return Reading{}, false
		}
	}
	return Reading{Gross: unit.Grams(s.shows(t, gross)), Temp: unit.Celsius(math.Round(10*s.temp(t)) / 10)}, true
}

func (s *scale) shows(t time.Time, gross float64) float64 {
	if s.lifted.holds(t) {
		gross = 0
	}
	for _, b := range s.bumps {
		if b.holds(t) {
			gross += b.mass
		}
	}
	gross += float64(s.PerKelvin)*(s.temp(t.Add(-s.Lag))-20) + s.zeroAt(t) + s.creep(t)
	s.reseed(t)
	gross += float64(s.Noise) * s.noise.NormFloat64()
	if s.noise.Float64() < s.Spikes {
		gross += float64(s.SpikeSize) * (2*s.noise.Float64() - 1)
	}
	if res := float64(s.Resolution); res > 0 {
		gross = math.Round(gross/res) * res
	}
	return gross
}

// reseed gives the reading at t chance of its own; asked again at the same instant, other chance.
func (s *scale) reseed(t time.Time) {
	if t.Equal(s.lastAsk) {
		s.asks++
	} else {
		s.lastAsk, s.asks = t, 0
	}
	s.pcg.Seed(s.opt.Seed^noiseStream<<56, uint64(t.UnixNano())+s.asks*0x9e3779b97f4a7c15)
}

func (s *scale) creep(t time.Time) float64 {
	if s.loadAt.IsZero() || t.Before(s.loadAt) {
		return 0
	}
	return -s.Creep * s.loadBy * math.Exp(-float64(t.Sub(s.loadAt))/float64(creepTime))
}

// days is the time since the start in days of 24 hours.
func (s *scale) days(t time.Time) float64 { return float64(unit.Between(s.opt.Start, t)) }

// catchUp draws zero, objects and silences up to the day of t.
func (s *scale) catchUp(t time.Time) {
	for want := int(math.Floor(s.days(t))); s.day < want; {
		s.day++
		s.zero, s.next = s.next, 0.97*s.next+float64(s.Wander)*s.rng.NormFloat64()
		s.forget(t)
		start := s.opt.Start.Add(time.Duration(s.day) * 24 * time.Hour)
		if s.rng.Float64() < s.Bumps {
			at := start.Add(hours(24 * s.rng.Float64()))
			s.bumps = append(s.bumps, object{span{at, at.Add(time.Duration((2 + 58*s.rng.Float64()) * float64(time.Minute)))}, 200 + 2800*s.rng.Float64()})
		}
		if s.rng.Float64() < s.Gaps {
			at := start.Add(hours(24 * s.rng.Float64()))
			s.silent = append(s.silent, span{at, at.Add(time.Duration(s.rng.ExpFloat64() * float64(s.GapMean)))})
		}
	}
}

// forget drops what is over before t.
func (s *scale) forget(t time.Time) {
	s.bumps = slices.DeleteFunc(s.bumps, func(b object) bool { return !t.Before(b.to) })
	s.silent = slices.DeleteFunc(s.silent, func(x span) bool { return !t.Before(x.to) })
}

// zeroAt is z at t, in the day caught up with.
func (s *scale) zeroAt(t time.Time) float64 {
	f := min(max(s.days(t)-float64(s.day), 0), 1)
	return s.zero + f*(s.next-s.zero)
}

// temp is the room temperature at t, °C.
func (s *scale) temp(t time.Time) float64 {
	d := s.days(t)
	k := math.Floor(d)
	f := d - k
	h := float64(t.Hour()) + float64(t.Minute())/60
	x := 20 + 2.5*math.Cos(yearAngle(t)) + 1.2*math.Sin(2*math.Pi*(h-9)/24)
	x += (1-f)*s.weather(int64(k)) + f*s.weather(int64(k)+1)
	return x
}

// weather is the disturbance of a day.
func (s *scale) weather(day int64) float64 {
	s.pcg.Seed(s.opt.Seed^roomStream<<56, uint64(day))
	return s.noise.NormFloat64()
}
