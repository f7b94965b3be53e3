package estimate

// typedNoise is how typed weights scatter, learned from how far each was from what was expected.
type typedNoise struct {
	variance float64 // g²
	n        float64 // weights it rests on
}

// typedNoiseWorth is how many weights the prior of their scatter is worth: it is known to about a factor of two, as the variance of so few is.
const typedNoiseWorth = 5

// learn takes the surprise e of a weight that was expected with variance p, and was right with a probability. What of the surprise was noise has the mean
// e·r/(p+r) and the variance p·r/(p+r).
func (h *typedNoise) learn(e, p, right float64) {
	if right < 0.5 {
		return
	}
	s := p + h.variance
	noise := e * h.variance / s
	h.n++
	h.variance += (noise*noise + p*h.variance/s - h.variance) / h.n
}
