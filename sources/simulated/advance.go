package simulated

import (
	"math"
	"slices"
	"time"

	"tarebell/forecast/unit"
)

// advance moves the house on to t, event by event. Between events only losses flow.
func (h *House) advance(t time.Time) {
	for {
		next, do := h.nextEvent(t)
		if do == nil {
			break
		}
		h.flow(next)
		do()
	}
	h.flow(t)
}

// nextEvent is the first of what happens at or before t, and what to do then.
func (h *House) nextEvent(t time.Time) (at time.Time, do func()) {
	at = t
	earlier := func(x time.Time) bool { return do == nil && !x.After(at) || do != nil && x.Before(at) }
	if !h.midnext.After(t) && earlier(h.midnext) {
		at, do = h.midnext, h.newDay
	}
	if len(h.script) > 0 && earlier(h.script[0].At) {
		at, do = h.script[0].At, h.nextIncident
	}
	for _, l := range h.losses {
		if !l.until.IsZero() && earlier(l.until) {
			at, do = l.until, func() { h.stop(l) }
		}
	}
	if l := h.demand.nextWish(at); l != nil && earlier(l.first().at) {
		at, do = l.first().at, func() { h.serve(l) }
	}
	return at, do
}

func (h *House) newDay() {
	h.midnext = midnight(h.midnext, 1)
	h.truth.DailyNet = append(h.truth.DailyNet, unit.Grams(h.net))
}

func (h *House) nextIncident() {
	i := h.script[0]
	h.script = h.script[1:]
	h.happen(i)
}

// serve grants the first wish of l if it can be.
func (h *House) serve(l *line) {
	s := l.first()
	l.head++
	room := h.net - float64(h.opt.Heel)
	switch {
	case h.away.holds(s.at):
		return
	case h.shut || room <= 0:
		return
	}
	m := min(s.mass, room)
	h.net -= m
	if h.net-float64(h.opt.Heel) < 1e-9 { // what rounding left
		h.net = min(h.net, float64(h.opt.Heel))
	}
	h.truth.Used += unit.Grams(m)
	h.truth.Servings++
	h.truth.Litres += h.opt.ServingLitres
}

// flow lets losses run until t. The rate is constant in between, so this is exact.
func (h *House) flow(t time.Time) {
	from, rate := h.now, h.lossRate()
	h.now = t
	if rate == 0 || h.net <= 0 || !t.After(from) {
		return
	}
	hrs := min(t.Sub(from).Hours(), h.net/rate) // nothing flows from an empty cylinder
	for _, l := range h.losses {
		l.Lost += l.Rate.Over(unit.Days(hrs / 24))
	}
	before := h.net
	h.net = max(h.net-rate*hrs, 0)
	h.truth.Lost += unit.Grams(before - h.net)
}

// lossRate is what leaves now, g/h.
func (h *House) lossRate() float64 {
	if h.shut {
		return 0
	}
	sum := 0.0
	for _, l := range h.losses {
		sum += float64(l.Rate)
	}
	return sum
}

// stop ends a loss.
func (h *House) stop(l *loss) {
	l.To = h.now
	h.losses = slices.DeleteFunc(h.losses, func(x *loss) bool { return x == l })
}

// grossTrue is what really stands on the platform.
func (h *House) grossTrue() unit.Grams { return h.opt.Tare + h.opt.Fittings + unit.Grams(h.net) }

// to advances to t, or stays if t is past.
func (h *House) to(t time.Time) {
	if t.After(h.now) {
		h.advance(t)
	}
}

// GrossAt is what the scale says at t, which should not lie before anything asked earlier: the past is
// answered with the present gas. ok is false if the scale does not answer.
func (h *House) GrossAt(t time.Time) (r Reading, ok bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.to(t)
	return h.scale.read(t, float64(h.grossTrue()))
}

// Reading is what the scale says.
type Reading struct {
	Gross unit.Grams // as one would read it
	Temp  unit.Celsius
}

// TrueNet is the gas really left at t.
func (h *House) TrueNet(t time.Time) unit.Grams {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.to(t)
	return unit.Grams(h.net)
}

// Fill gives the cylinder net gas at t; whatever was left in it is handed back.
func (h *House) Fill(t time.Time, net unit.Grams) {
	if !(net >= 0) || math.IsInf(float64(net), 0) {
		panic("simulated: a fill of less than nothing")
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.to(t)
	h.truth.Returned += unit.Grams(h.net)
	h.truth.Filled += net
	h.net = float64(net)
	h.scale.load(h.now, float64(h.grossTrue()))
}

// CloseValve shuts the main valve at t: nobody can draw and nothing leaves until OpenValve. What had been left
// open is found and shut.
func (h *House) CloseValve(t time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.to(t)
	h.shut = true
	h.stopAll(ValveLeftOpen)
}

// OpenValve opens the main valve at t. A leak that was not repaired goes on.
func (h *House) OpenValve(t time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.to(t)
	h.shut = false
}

// Repair stops all leaks at t.
func (h *House) Repair(t time.Time) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.to(t)
	h.stopAll(LeakBegins)
}

func (h *House) stopAll(what Happening) {
	for _, l := range slices.Clone(h.losses) {
		if l.What == what {
			h.stop(l)
		}
	}
}

// Happen lets something happen that was not in the script. An incident in the past happens now.
func (h *House) Happen(i Incident) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.to(i.At)
	if i.At.Before(h.now) {
		i.At = h.now
	}
	h.happen(i)
}
