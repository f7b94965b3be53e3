package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// scale is how a household weighs, and what goes wrong with it. Masses in grams.
type scale struct {
	sd, grain         float64
	pounds            bool // typed in whole tenths of a pound
	every             int  // minutes
	perKelvin         float64
	hasTemp           bool
	mean, swing, year float64   // °C
	snap              bool      // three cold days in sixty
	wander            []float64 // zero at the start of each hour
	creep             float64   // share of a change of load that is shown late
	spike             float64   // chance of a reading
	spikeSize         float64
	gaps              []span
	objects           []span  // something stands there too
	lifts             []span  // the cylinder is off
	shifts            []span  // the zero is elsewhere from then on
	drifts            []span  // the zero moves by that much until the end, and snaps back
	slips             float64 // chance that what is typed is wrong
	times             []int   // minutes at which it is read, or somebody has the habit to
}

// creepTime is the time constant of creep, minutes; its share is at most the 0.0166 to 0.06 % in 30 min of data sheets of beam cells.
const creepTime = 20.

func sortBy[T any](xs []T, key func(T) int) {
	slices.SortStableFunc(xs, func(a, b T) int { return key(a) - key(b) })
}

func (h *Home) newScale() scale {
	r := newRNG(h.Seed, scaleStream)
	s := scale{sd: r.logBetween(4, 50), grain: oneOf(r, 1., 5, 10, 20), every: oneOf(r, 15, 30, 60), spike: 0.001, spikeSize: 10_000}
	s.perKelvin, s.hasTemp = r.normal(0, 5), r.happens(0.6)
	s.mean, s.swing, s.year = r.between(17, 23), r.between(0.5, 3), r.between(0, 4)
	if h.Single { // one cylinder's life: scales differ more
		s.sd, s.grain, s.every = r.logBetween(4, 60), oneOf(r, 1., 5, 10, 20, 45), oneOf(r, 10, 15, 30, 60)
		s.perKelvin, s.spike = r.normal(0, 6), r.between(0, 0.004)
	}
	switch h.Family {
	case Typed, Careless:
		return h.typedScale(r, s)
	case Rough:
		s.sd, s.grain, s.every = r.logBetween(1, 60), oneOf(r, 1., 2, 5, 10, 20, 50), oneOf(r, 5, 10, 15, 30, 60)
		s.creep, s.spike = r.between(0, 0.0006), r.between(0, 0.004)
	}
	if h.Law.sharp {
		s.sd, s.grain, s.spikeSize = r.logBetween(1, 8), oneOf(r, 1., 2, 5), 500
		s.perKelvin /= 10
	}
	h.faults(r, &s)
	for t := int(r.between(0, 60)); t < h.end; t += s.every {
		s.times = append(s.times, t)
	}
	return s
}

// faults draws what goes wrong with a scale that is read by itself.
func (h *Home) faults(r rng, s *scale) {
	wander, a, z := r.between(0, 22), math.Exp(-1./24/20), 0.0 // it forgets within 20 days
	often, big, objects := 1., 1., 60.
	if h.Single {
		objects = 45
	}
	if h.Law.sharp {
		wander, big = wander/10, 0.05
	}
	if h.Family == Rough || h.Family == Trouble {
		often = 4
	}
	for range 24*h.Days + 2 {
		s.wander = append(s.wander, z)
		z = a*z + wander*math.Sqrt(1-a*a)*r.NormFloat64()
	}
	gap := func(days float64) func() float64 { return func() float64 { return r.after(days * day) } }
	none := func() float64 { return 0 }
	s.gaps = spans(h.end, gap(40), func() float64 { return r.logBetween(60, 4*day) }, none)
	s.objects = spans(h.end, gap(objects/often), func() float64 { return r.between(20, 2000) }, func() float64 { return big * r.between(300, 3000) })
	if often == 1 {
		return
	}
	s.lifts = spans(h.end, gap(60), func() float64 { return r.between(30, 300) }, none)
	s.shifts = spans(h.end, gap(150), func() float64 { return 0 }, func() float64 { return big * r.between(150, 1300) * oneOf(r, -1., 1) })
	s.snap = h.Family == Trouble
	if h.Family == Rough {
		s.drifts = spans(h.end, gap(60), func() float64 { return r.between(3, 40) * day }, func() float64 { return big * r.normal(0, 120) })
	}
}

// read is what is seen at minute t with gas on the scale; ok is false if it does not answer. sinceFill is how long the cylinder
// stands there, again the how manieth reading of this moment.
func (s *scale) read(h *Home, t int, gas float64, away bool, sinceFill, again int) (w record.Event, ok bool) {
	if gap, _ := at(s.gaps, t); gap.to > 0 {
		return w, false
	}
	r := rng{rand.New(rand.NewPCG(h.Seed, uint64(t)<<8|uint64(again)))}
	y := h.house + gas
	lift, lifted := at(s.lifts, t)
	if lift.to > 0 || away {
		y = 0
	}
	if s.creep > 0 && y > 0 {
		back := sinceFill
		if lifted.to > 0 {
			back = min(back, t-lifted.to)
		}
		y -= s.creep * y * math.Exp(-float64(back)/creepTime)
	}
	object, gone := at(s.objects, t)
	if object.to > 0 && !away {
		y += object.by
	} else if gone.to > 0 && s.creep > 0 {
		y += s.creep * gone.by * math.Exp(-float64(t-gone.to)/creepTime)
	}
	temp := s.temp(t, r)
	y += s.zero(t) + s.perKelvin*(temp-20) + s.sd*r.NormFloat64()
	if r.happens(s.spike) {
		y += r.between(-1, 1) * s.spikeSize
	}
	w = record.Event{Kind: record.Weighed, Cylinder: "main", At: when(float64(t)), Gross: unit.Grams(max(0, math.Round(y/s.grain)*s.grain)), Origin: record.Scale}
	if h.typed {
		w.Origin = record.Manual
	}
	if s.hasTemp {
		w.Temp, w.HasTemp = unit.Celsius(math.Round(10*temp)/10), true
	}
	if h.typed {
		w.Gross = s.typed(h, r, y)
	}
	return w, true
}

func (s *scale) temp(t int, r rng) float64 {
	d := float64(t) / day
	temp := s.mean + s.swing*math.Sin(2*math.Pi*(d-0.35)) + s.year*math.Sin(2*math.Pi*d/365.25) + r.normal(0, 0.1)
	if s.snap && (t/day)%60 >= 20 && (t/day)%60 < 23 {
		temp -= 7
	}
	return temp
}

// zero is where the scale's zero stands.
func (s *scale) zero(t int) float64 {
	z := 0.0
	if len(s.wander) > 0 {
		i, f := t/60, float64(t%60)/60
		z = s.wander[i]*(1-f) + s.wander[i+1]*f
	}
	for _, x := range s.shifts {
		if x.from <= t {
			z += x.by
		}
	}
	if x, _ := at(s.drifts, t); x.to > 0 {
		z += x.by * float64(t-x.from) / float64(x.to-x.from)
	}
	return z
}
