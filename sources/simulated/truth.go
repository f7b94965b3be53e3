package simulated

import (
	"slices"
	"time"

	"tarebell/forecast/unit"
)

// Truth is what really happened up to At. Filled − Returned − Used − Lost = Net.
type Truth struct {
	At  time.Time
	Net unit.Grams

	Filled   unit.Grams // all gas that came, that of the start included
	Returned unit.Grams // what was left in cylinders handed back
	Used     unit.Grams
	Lost     unit.Grams

	Servings int
	Missed   int // wished for, but the gas was out or the valve shut
	Litres   unit.Litres
	People   []Share // by person; the last one is all guests together

	LiquidDry []time.Time // when the gas fell to DryMass, once a cylinder at most
	RunOut    []time.Time // when it fell to the heel
	Fills     []Fill
	Losses    []Loss
	DailyNet  []unit.Grams // at each local midnight after the start
}

// Share is what somebody took.
type Share struct {
	Servings int
	Litres   unit.Litres
	Gas      unit.Grams
}

// Fill is gas that came.
type Fill struct {
	At  time.Time
	Net unit.Grams
}

// Loss is gas that went without use.
type Loss struct {
	What     Happening
	From, To time.Time // To is zero while it goes on
	Rate     unit.GramsPerHour
	Lost     unit.Grams
}

// loss is a Loss at work.
type loss struct {
	Loss
	until time.Time // when it ends by itself; zero: when somebody acts
}

// Truth is the account so far, as far as the house has been asked.
func (h *House) Truth() Truth {
	h.mu.Lock()
	defer h.mu.Unlock()
	t := h.truth
	t.At, t.Net = h.now, unit.Grams(h.net)
	t.People = slices.Clone(t.People)
	t.LiquidDry, t.RunOut = slices.Clone(t.LiquidDry), slices.Clone(t.RunOut)
	t.Fills, t.DailyNet = slices.Clone(t.Fills), slices.Clone(t.DailyNet)
	for _, l := range h.everLost {
		t.Losses = append(t.Losses, l.Loss)
	}
	return t
}

// Until advances to the run-out or to the horizon, whichever is first, and reports whether the gas ran out
// and when. It serves studies that need no readings in between.
func (h *House) Until(horizon time.Time) (at time.Time, dry bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	n := len(h.truth.RunOut)
	for h.now.Before(horizon) && len(h.truth.RunOut) == n {
		step := h.now.AddDate(0, 0, 1)
		if step.After(horizon) {
			step = horizon
		}
		h.advance(step)
	}
	if len(h.truth.RunOut) > n {
		return h.truth.RunOut[n], true
	}
	return h.now, false
}
