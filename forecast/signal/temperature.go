package signal

import (
	"math"
	"time"
)

// drift learns how the reading follows the temperature, from the nights, when nobody draws: the slope of
// the weight over a night against that of the temperature, as a line through the origin. Days are of no use
// for it, since the household draws most when it is warmest.
type drift struct {
	lag  float64 // temperature the load cell is thought to have, °C
	at   time.Time
	seen bool
	ref  float64 // °C, at which the drift counts as nothing: the mean of the first days
	refN float64

	night            night
	sxy, sxx         float64 // over the nights: Σ w·slopeT·slopeX, Σ w·slopeT²
	coef, sd         float64 // g/°C
	told, suspending bool
}

// night holds the sums for two regressions on time.
type night struct {
	from, to                     time.Time
	n, st, sx, sT, stt, stx, stT float64
}

const (
	lagHours   = 0.5               // a load cell in a thin case follows the room; a guess, common practice
	coefPrior  = 6.0               // g/°C: what most coefficients lie within
	nightSD    = 0.8               // g/h: what else makes a night's slope wander
	refDays    = 5 * 24.0          // readings an hour apart to settle the reference
	nightStart = 23.0              // local hour from which nobody is expected to draw
	nightEnd   = 6.0               // and until when
	nightLeast = 210 * time.Minute // for a slope to count
)

// take follows one ordinary reading of mass x and returns what temperature has added to it.
func (d *drift) take(r Reading, x, sd float64) float64 {
	if !r.HasTemp || math.IsNaN(float64(r.Temp)) || math.Abs(float64(r.Temp)) > 80 {
		return 0
	}
	d.warm(float64(r.Temp), r.At)
	if h := math.Mod(r.Hour, 24); h >= nightStart || h < nightEnd {
		d.night.add(r.At, x, d.lag)
	} else if d.night.n > 0 {
		d.close(sd)
	}
	return d.coef * (d.lag - d.ref)
}

// warm lets the load cell follow the temperature.
func (d *drift) warm(t float64, at time.Time) {
	if !d.seen {
		d.lag, d.ref, d.seen = t, t, true
	} else {
		h := hours(d.at, at)
		d.lag += (t - d.lag) * (1 - math.Exp(-h/lagHours))
		if d.refN < refDays {
			d.refN += math.Min(h, 1)
			d.ref += (d.lag - d.ref) * math.Min(h, 1) / math.Max(d.refN, 1)
		}
	}
	d.at = at
}

func (s *night) add(at time.Time, x, temp float64) {
	if s.n == 0 {
		s.from = at
	}
	t := hours(s.from, at)
	s.to = at
	s.n++
	s.st += t
	s.sx += x
	s.sT += temp
	s.stt += t * t
	s.stx += t * x
	s.stT += t * temp
}

// close learns from the night that has ended.
func (d *drift) close(sd float64) {
	s := d.night
	d.night = night{}
	if s.n < 5 || s.to.Sub(s.from) < nightLeast || d.suspending {
		return
	}
	tt := s.stt - s.st*s.st/s.n
	slopeX, slopeT := (s.stx-s.st*s.sx/s.n)/tt, (s.stT-s.st*s.sT/s.n)/tt
	v := sd*sd/tt + nightSD*nightSD
	if math.Abs(slopeX-d.coef*slopeT) > 5*math.Sqrt(v+d.sd*d.sd*slopeT*slopeT)+5 {
		return // somebody drew, or gas is leaving
	}
	d.sxy += slopeT * slopeX / v
	d.sxx += slopeT * slopeT / v
	p := d.sxx + 1/(coefPrior*coefPrior)
	d.coef, d.sd = d.sxy/p, 1/math.Sqrt(p)
}

// interrupt forgets the running night, since something moved.
func (d *drift) interrupt() { d.night = night{} }

// Class limit of a load cell: the temperature may shift its zero by p_LC = 0.7 of the smallest verification
// interval per 5 °C (OIML R 60:2000, C.2.4.4, classes B to D), and a class C3 cell has 3,000 intervals. That
// its capacity is twice the full cylinder is a guess of ours.
const (
	cellShare     = 0.7
	cellSpan      = 5.0 // °C
	cellIntervals = 3000.0
	cellReserve   = 2.0
)

// classLimit is the temperature coefficient a class C3 cell for this cylinder may have, g/°C.
func (o Options) classLimit() float64 {
	capacity := cellReserve * float64(o.House+o.NetFill)
	return cellShare * capacity / cellIntervals / cellSpan
}

// warn tells once that the scale follows the temperature more than its class allows.
func (f *Filter) warn(r Reading) {
	d := &f.drift
	if d.told || d.sd == 0 || math.Abs(d.coef)-2*d.sd < f.opt.classLimit() {
		return
	}
	d.told = true
	f.tell(TemperatureDrift, r, r.At, d.coef, d.sd)
}

// Suspect stops learning the drift while gas is thought to be leaving, which would look like it.
func (f *Filter) Suspect(losing bool) { f.drift.suspending = losing }

// Coefficient is how the reading follows the temperature, g/°C, with its standard deviation; 0, 0 unknown.
func (f *Filter) Coefficient() (coef, sd float64) { return f.drift.coef, f.drift.sd }
