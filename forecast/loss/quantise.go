package loss

import "math"

// coarse is how much of the rounding error of a scale with the given step stays from reading to reading
// because the scatter sd is too small to shake it off, g. A scatter of sd before rounding leaves the fraction
// exp(-2π²sd²/step²) of the rounding error as a bias that depends only on the mass (Widrow & Kollár 2008,
// from memory); sd, as measured, holds the rounding error step²/12 too.
func coarse(sd, step float64) float64 {
	if step <= 0 {
		return 0
	}
	own := math.Max(0, sd*sd-step*step/12)
	return step / math.Sqrt(12) * math.Exp(-2*math.Pi*math.Pi*own/(step*step))
}
