package loss

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

func grams(x float64) unit.Grams          { return unit.Grams(x) }
func perHour(x float64) unit.GramsPerHour { return unit.GramsPerHour(x) }

// open follows a loss that is believed: level and rate together (a Kalman filter of two states), and the
// evidence that it has stopped (a Page test the other way round).
type open struct {
	believed bool
	slow     bool // found by nights, followed by nights
	since    time.Time
	lost     float64
	lostVar  float64
	sure     float64 // lost when nothing spoke for an end yet, g
	sureVar  float64
	rate     float64
	rateSD   float64
	told     float64 // rate last told

	level       float64
	pl, pr, plr float64 // covariance of level and rate
	flat, flatP float64 // level if nothing leaves any more
	stop        CUSUM   // evidence that it has stopped
}

const (
	stopThreshold = 6.0
	worse         = 3.0  // times the rate told
	worseBy       = 30.0 // g/h
	leastWorse    = 10.0 // g/h, of a slow loss that has become a fast one
)

// begin believes in a loss.
func (w *Watch) begin(f Found) (Found, bool) {
	b := &w.hours
	rate, sd := float64(f.Rate), math.Max(float64(f.RateSD), 0.05*float64(f.Rate))
	w.open = open{
		believed: true, slow: f.Kind == Slow, since: f.Since, lost: float64(f.Lost), lostVar: float64(f.LostSD * f.LostSD),
		sure: float64(f.Lost), sureVar: float64(f.LostSD * f.LostSD), rate: rate, rateSD: sd, told: rate,
		level: float64(w.burst.bin[w.burst.n-1].mean()), flat: b.level,
	}
	w.open.pl = b.p + 1
	w.open.flat, w.open.flatP = w.open.level, w.open.pl
	w.open.pr = sd * sd
	w.open.stop = CUSUM{H: stopThreshold}
	return f, true
}

// follow takes a reading while a loss is believed.
func (o *open) follow(w *Watch, r Reading, dt, drift, z float64, night bool) (Found, bool) {
	if dt <= 0 {
		return Found{}, false
	}
	o.lost += o.rate * dt
	o.lostVar += o.rateSD * o.rateSD * dt * dt
	if o.slow {
		if night {
			o.night(w, r, z)
		}
	} else if dt <= longGap {
		o.hour(w, r, dt, drift)
	} else {
		o.level = float64(r.Gross)
		o.flat = o.level
	}
	if o.rate < math.Max(0.2*o.told, 0.5) && 2*o.rateSD < o.told && !o.slow {
		o.stop.Add(0.5 * dt)
	}
	switch {
	case o.stop.S > o.stop.H:
		if o.slow { // it ended when nights began to say so
			o.lost, o.lostVar = o.sure, o.sureVar
		}
		f := o.found(Stopped)
		w.end()
		w.wary = math.Max(w.wary, waryStep)
		return f, true
	case o.rate > worse*o.told && o.rate > o.told+worseBy && o.rateSD < 0.3*o.rate:
		o.told = o.rate
		return o.found(Worse), true
	}
	return Found{}, false
}

func (o *open) found(k Kind) Found {
	return Found{
		Kind: k, Since: o.since, Lost: grams(o.lost), LostSD: grams(math.Sqrt(o.lostVar)),
		Rate: perHour(o.rate), RateSD: perHour(o.rateSD),
	}
}

// hour follows a loss reading by reading.
func (o *open) hour(w *Watch, r Reading, dt, drift float64) {
	sd2 := float64(r.SD * r.SD)
	spread := w.spread(r, dt) + float64(r.StepSD*r.StepSD)
	y := float64(r.Gross)
	// The loss goes on, at about its rate.
	o.level -= drift + o.rate*dt
	o.pl += -2*dt*o.plr + dt*dt*o.pr + spread
	o.plr -= dt * o.pr
	o.pr += 0.02 * o.rate * o.rate * dt
	s := o.pl + sd2
	nu := y - o.level
	// Nothing leaves any more.
	o.flat -= drift
	o.flatP += spread
	sf := o.flatP + sd2
	nuf := y - o.flat
	e := (nu*nu/s + math.Log(s) - nuf*nuf/sf - math.Log(sf)) / 2
	o.stop.Add(clipTo(e, 3))
	kl, kr := o.pl/s, o.plr/s
	o.level += kl * nu
	o.rate = math.Max(0, o.rate+kr*nu)
	o.pl, o.plr, o.pr = o.pl*(1-kl), o.plr*(1-kl), o.pr-kr*o.plr
	kf := o.flatP / sf
	o.flat += kf * nuf
	o.flatP *= 1 - kf
	if o.stop.S == 0 {
		o.flat, o.flatP = o.level, o.pl
	}
	o.rateSD = math.Sqrt(math.Max(o.pr, 0))
}

// night follows a slow loss night by night; z is how much faster than usual it fell. The rate learns from every night
// that does not speak for an end, and with it all that was lost so far.
func (o *open) night(w *Watch, r Reading, z float64) {
	sd := math.Sqrt(w.nights.s2.E)
	fell, g := z*sd, o.told
	o.stop.Add(clipTo((g*g-2*g*fell)/(2*sd*sd), 3))
	if o.stop.S > 0 {
		return
	}
	k := o.rateSD * o.rateSD / (o.rateSD*o.rateSD + sd*sd)
	o.rate = math.Max(0, o.rate+k*(fell-o.rate))
	o.rateSD = math.Sqrt(k) * sd
	h := r.At.Sub(o.since).Hours()
	o.lost, o.lostVar = o.rate*h, o.rateSD*o.rateSD*h*h
	o.sure, o.sureVar = o.lost, o.lostVar
}

// Sofar describes the loss believed, if any.
func (w *Watch) Sofar() (f Found, losing bool) {
	if !w.open.believed {
		return Found{}, false
	}
	return w.open.found(Abrupt), true
}
