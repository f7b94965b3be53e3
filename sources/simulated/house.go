package simulated

import (
	"math"
	"slices"
	"sort"
	"time"

	"tarebell/forecast/unit"
)

// event is something that is going to happen.
type event struct {
	at time.Time
	do func()
}

// plan lets something happen at a time, after what is planned for that time already.
func (h *House) plan(at time.Time, do func()) {
	i := sort.Search(len(h.due), func(i int) bool { return h.due[i].at.After(at) })
	h.due = slices.Insert(h.due, i, event{at, do})
}

// enter locks the house and moves it on to t, event by event, or leaves it where it is if t is past. Between events only losses flow.
func (h *House) enter(t time.Time) (leave func()) {
	h.mu.Lock()
	for len(h.due) > 0 && !h.due[0].at.After(t) {
		next := h.due[0]
		h.due = h.due[1:]
		h.flow(next.at)
		next.do()
	}
	h.flow(t)
	return h.mu.Unlock
}

// day begins the local day at midnight: what people want is drawn.
func (h *House) day(midnight time.Time) {
	for _, s := range h.demand.drawDay() {
		if !s.at.Before(h.opt.Start) {
			h.plan(s.at, func() { h.serve(s) })
		}
	}
	next := h.demand.next
	h.plan(next, func() {
		h.truth.DailyNet = append(h.truth.DailyNet, unit.Grams(h.net))
		h.day(next)
	})
}

// serve draws a serving, as far as the valve is open and there is gas above the heel.
func (h *House) serve(s serving) {
	heel := float64(h.opt.Heel)
	if h.shut || h.net <= heel {
		return
	}
	m := min(s.mass, h.net-heel)
	h.net -= m
	if h.net-heel < 1e-9 { // what rounding left
		h.net = min(h.net, heel)
	}
	h.truth.Used += unit.Grams(m)
	h.truth.Servings++
}

// flow lets losses run until t. The rate is constant in between, so this is exact.
func (h *House) flow(t time.Time) {
	if !t.After(h.now) {
		return
	}
	hrs, rate := t.Sub(h.now).Hours(), 0.0
	h.now = t
	for _, l := range h.losses {
		rate += float64(l.flowing())
	}
	if h.shut || rate == 0 || h.net <= 0 {
		return
	}
	hrs = min(hrs, h.net/rate) // nothing flows from an empty cylinder
	for _, l := range h.losses {
		l.Lost += l.flowing().Over(unit.Days(hrs / 24))
	}
	before := h.net
	h.net = max(h.net-rate*hrs, 0)
	h.truth.Lost += unit.Grams(before - h.net)
}

// stop ends some of the losses that go on.
func (h *House) stop(some func(*Loss) bool) {
	for _, l := range h.losses {
		if l.To.IsZero() && some(l) {
			l.To = h.now
		}
	}
}

// grossTrue is what really stands on the platform.
func (h *House) grossTrue() unit.Grams { return h.opt.Tare + h.opt.Fittings + unit.Grams(h.net) }

// GrossAt is what the scale says at t, which should not lie before anything asked earlier: the past is
// answered with the present gas. ok is false if the scale does not answer.
func (h *House) GrossAt(t time.Time) (r Reading, ok bool) {
	defer h.enter(t)()
	return h.scale.read(t, float64(h.grossTrue()))
}

// Reading is what the scale says.
type Reading struct {
	Gross unit.Grams // as one would read it
	Temp  unit.Celsius
}

// TrueNet is the gas really left at t.
func (h *House) TrueNet(t time.Time) unit.Grams {
	defer h.enter(t)()
	return unit.Grams(h.net)
}

// Fill gives the cylinder net gas at t; whatever was left in it is handed back.
func (h *House) Fill(t time.Time, net unit.Grams) {
	if !(net >= 0) || math.IsInf(float64(net), 0) {
		panic("simulated: a fill of less than nothing")
	}
	defer h.enter(t)()
	h.truth.Returned += unit.Grams(h.net)
	h.truth.Filled += net
	h.net = float64(net)
	h.scale.load(h.now, float64(h.grossTrue()))
}

// CloseValve shuts the main valve at t: nobody can draw and nothing leaves until OpenValve. What had been left
// open is found and shut.
func (h *House) CloseValve(t time.Time) {
	defer h.enter(t)()
	h.shut = true
	h.stop(func(l *Loss) bool { return l.What == ValveLeftOpen })
}

// OpenValve opens the main valve at t. A leak that was not repaired goes on.
func (h *House) OpenValve(t time.Time) {
	defer h.enter(t)()
	h.shut = false
}

// Repair stops all leaks at t.
func (h *House) Repair(t time.Time) {
	defer h.enter(t)()
	h.stop(func(l *Loss) bool { return l.What == LeakBegins })
}

// Happen lets something happen that was not in the script. An incident in the past happens now.
func (h *House) Happen(i Incident) {
	defer h.enter(i.At)()
	if i.At.Before(h.now) {
		i.At = h.now
	}
	h.happen(i)
}
