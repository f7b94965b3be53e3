package loss

import "math"

// CUSUM is the one-sided tabular cumulative sum of Page (1954): S = max(0, S + z - K), a signal when S > H.
// z is standardised, K and H are in standard deviations.
type CUSUM struct {
	K, H float64
	S    float64 // start it above 0 for the head start of Lucas & Crosier (1982)
}

// Add takes the next value and reports a signal.
func (c *CUSUM) Add(z float64) bool {
	c.S = math.Max(0, c.S+z-c.K)
	return c.S > c.H
}

// EWMA is the exponentially weighted moving average: E = λ·x + (1-λ)·E.
type EWMA struct {
	Lambda float64 // in (0, 1]
	E      float64
}

// Add takes the next value and returns the average.
func (e *EWMA) Add(x float64) float64 {
	e.E += e.Lambda * (x - e.E)
	return e.E
}
