package trial

import (
	"math"

	"tarebell/forecast/unit"
)

// typedScale is a bathroom scale and somebody who types what it shows.
func (h *Home) typedScale(r rng, s scale) scale {
	s = scale{sd: r.between(50, 200), grain: oneOf(r, 50., 100, 100, 91), slips: 0.01, mean: 20}
	if h.Law.sharp {
		s.sd, s.grain = r.between(1, 8), oneOf(r, 1., 2, 5)
	}
	if h.Family == Careless {
		s.pounds, s.slips = r.happens(0.3), r.between(0.01, 0.08)
	}
	habit := oneOf(r, 4., 7, 7, 10, 14, 14, 21) * day
	gap := func() float64 { return habit * r.between(0.5, 1.6) }
	if h.Single { // one cylinder's life: no habit at all
		gap = func() float64 { return oneOf(r, 1., 3, 7, 7, 7, 14, 21) * day * r.between(0.7, 1.3) }
	}
	for t := r.between(60, 600); t < float64(h.end); t += gap() {
		s.times = append(s.times, int(t))
	}
	return s
}

// pound is 0.45359237 kg by definition, here in grams.
const pound = 453.59237

// typed is what somebody types who reads y.
func (s *scale) typed(h *Home, r rng, y float64) unit.Grams {
	y = max(0, math.Round(y/s.grain)*s.grain)
	if s.pounds {
		y = math.Round(y/pound*10) / 10 * pound
	}
	if !r.happens(s.slips) {
		return unit.Grams(y)
	}
	slip := 0
	if h.Family == Careless {
		slip = r.IntN(4)
	}
	switch slip {
	case 1:
		return unit.Grams(swapDigits(y, r))
	case 2:
		return unit.Grams(10 * y) // a decimal point left out
	case 3:
		return unit.Grams(max(0, y-h.fit)) // weighed before the regulator was back on
	}
	return unit.Grams(y * 1000 / pound) // pounds taken for kilograms
}

// swapDigits exchanges two neighbouring digits of y in tenths of a kilogram.
func swapDigits(y float64, r rng) float64 {
	n := int(math.Round(y / 100))
	p := oneOf(r, 1, 10)
	a, b := n/p%10, n/p/10%10
	return y + 100*float64(p*(b-a)+10*p*(a-b))
}
