package loss

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

func grams(x float64) unit.Grams          { return unit.Grams(x) }
func perHour(x float64) unit.GramsPerHour { return unit.GramsPerHour(x) }

// episode is a loss that is believed, and the evidence that it has stopped (a Page test the other way round).
type episode struct {
	believed bool
	since    time.Time
	at       time.Time // up to which lost counts
	lost     float64
	lostVar  float64
	sure     float64 // lost when nothing spoke for an end yet, g
	sureVar  float64
	rate     float64
	rateSD   float64
	told     float64 // rate last told
	stop     CUSUM   // evidence of nights that it has stopped
}

const (
	stopThreshold = 6.0
	worse         = 3.0  // times the rate told
	worseBy       = 30.0 // g/h
)

// followed takes a reading while a loss found by flow is believed.
func (w *Watch) followed(r Reading) (Found, bool) {
	o := &w.episode
	f := w.flow.found(r.At)
	o.rate, o.rateSD, o.at = float64(f.Rate), float64(f.RateSD), r.At
	o.lost, o.lostVar = float64(f.Lost), float64(f.LostSD*f.LostSD)
	if w.flow.stop < 1 {
		o.sure, o.sureVar = o.lost, o.lostVar
	}
	switch {
	case math.Log(w.flow.stop) > stopThreshold:
		return w.stopped(r)
	case o.rate > worse*o.told && o.rate > o.told+worseBy && o.rateSD < 0.3*o.rate:
		o.told = o.rate
		return o.found(Worse), true
	}
	return Found{}, false
}

// stopped ends the loss when evidence for its end began.
func (w *Watch) stopped(r Reading) (Found, bool) {
	o := &w.episode
	o.lost, o.lostVar = o.sure, o.sureVar
	f := o.found(Stopped)
	if r.Ended {
		w.end()
		return f, true
	}
	f.Use = w.flow.losing
	w.wasUse(false) // what stops by itself most likely was
	w.flow.log.settle(w, true)
	w.end()
	w.raised = math.Max(w.raised, raisedStep)
	return f, true
}

func (o *episode) found(k Kind) Found {
	return Found{
		Kind: k, Since: o.since, Lost: grams(o.lost), LostSD: grams(math.Sqrt(o.lostVar)),
		Rate: perHour(o.rate), RateSD: perHour(o.rateSD),
	}
}

// pass lets a slow loss go on until r.
func (o *episode) pass(r Reading) {
	dt := r.At.Sub(o.at).Hours()
	o.at = r.At
	o.lost += o.rate * dt
	o.lostVar += o.rateSD * o.rateSD * dt * dt
}

// night follows a slow loss night by night; z is how much faster than usual it fell. The rate learns from every night
// that does not speak for an end, and with it all that was lost so far.
func (o *episode) night(w *Watch, r Reading, z float64) (Found, bool) {
	o.pass(r)
	sd := math.Sqrt(w.nights.s2.E)
	fell, g := z*sd, o.told
	if o.stop.Add(clipTo((g*g-2*g*fell)/(2*sd*sd), 3)) {
		return w.stopped(r)
	}
	if o.stop.S > 0 {
		return Found{}, false
	}
	k := o.rateSD * o.rateSD / (o.rateSD*o.rateSD + sd*sd)
	o.rate = math.Max(0, o.rate+k*(fell-o.rate))
	o.rateSD = math.Sqrt(k) * sd
	h := r.At.Sub(o.since).Hours()
	o.lost, o.lostVar = o.rate*h, o.rateSD*o.rateSD*h*h
	o.sure, o.sureVar = o.lost, o.lostVar
	return Found{}, false
}

// Sofar describes the loss believed, if any.
func (w *Watch) Sofar() (f Found, losing bool) {
	if !w.episode.believed {
		return Found{}, false
	}
	return w.episode.found(Abrupt), true
}
