package estimate

import "math"

// batch gathers the readings of a quarter of a day into one of their mean time.
type batch struct {
	n       int
	from    float64 // s, first reading
	w, t, y float64 // Σ of weights, weighted seconds since from, weighted gross since first
	base    float64 // gross of the first reading, kept in a fresh batch for precision
	given   bool    // the readings brought their own noise
	stepVar float64 // baseline uncertainty before the first reading
	slot    float64 // which quarter
}

// add takes a reading; sd 0 means weight 1, to be scaled later by the scale's noise.
func (b *batch) add(t, y, sd float64) {
	if b.n == 0 {
		b.from, b.base, b.given = t, y, sd > 0
	}
	w := 1.0
	if b.given && sd > 0 {
		w = 1 / max(sd*sd, 1e-12) // finite
	}
	b.n++
	b.w += w
	b.t += w * (t - b.from)
	b.y += w * (y - b.base)
}

// entry is the batch as one reading, given the scale's noise.
func (b *batch) entry(s *noise) entry {
	n := float64(b.n)
	white := s.sd() * s.sd() / n
	if b.given {
		white = 1 / b.w
	}
	r := 1.15*white + math.Pow(s.rounding(), 2)*0.5
	return entry{t: b.from + b.t/b.w, kind: reading, y: b.base + b.y/b.w, r: r, stepVar: b.stepVar}
}
