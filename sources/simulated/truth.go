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
	Litres   unit.Litres

	Losses   []Loss
	DailyNet []unit.Grams // at each local midnight after the start
}

// Loss is gas that went without use.
type Loss struct {
	What     Happening
	From, To time.Time // To is zero while it goes on
	Rate     unit.GramsPerHour
	Lost     unit.Grams
}

// flowing is its rate while it goes on.
func (l *Loss) flowing() unit.GramsPerHour {
	if !l.To.IsZero() {
		return 0
	}
	return l.Rate
}

// Truth is the account so far, as far as the house has been asked.
func (h *House) Truth() Truth {
	h.mu.Lock()
	defer h.mu.Unlock()
	t := h.truth
	t.At, t.Net = h.now, unit.Grams(h.net)
	t.Litres = unit.Litres(t.Servings) * h.opt.ServingLitres
	t.DailyNet = slices.Clone(t.DailyNet)
	for _, l := range h.losses {
		t.Losses = append(t.Losses, *l)
	}
	return t
}
