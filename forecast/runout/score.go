package runout

import (
	"math"

	"tarebell/forecast/unit"
)

// Scores of a forecast against what happened. All are losses in the unit of the time, smaller is better, and proper: nobody
// does better on average by saying something else than what they believe. Definitions: Gneiting & Raftery, Strictly Proper
// Scoring Rules, Prediction, and Estimation, JASA 102 (2007) 359-378, from memory.

// Probabilities are those of the seven quantiles by which a forecast is told and judged.
var Probabilities = [7]float64{0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95}

// Quantiles are the seven quantiles of d, those beyond most taken as most, so that "not within the horizon" costs something
// finite. They are NaN for an unknown time.
func (d Distribution) Quantiles(most unit.Days) (q [7]unit.Days) {
	for i, p := range Probabilities {
		q[i] = d.Quantile(p)
		if q[i] > most {
			q[i] = most
		}
	}
	return q
}

// Pinball is the loss of the quantile q at probability p when y happened: (p - 1{y<q})·(y - q).
func Pinball(p float64, q, y unit.Days) unit.Days {
	if y < q {
		return unit.Days(1-p) * (q - y)
	}
	return unit.Days(p) * (y - q)
}

// QuantileLoss is twice the mean pinball loss of the seven quantiles: what the integral of CRPS = 2∫ pinball dp comes to
// when it is taken at them.
func QuantileLoss(q [7]unit.Days, y unit.Days) unit.Days {
	sum := unit.Days(0)
	for i, p := range Probabilities {
		sum += Pinball(p, q[i], y)
	}
	return 2 * sum / unit.Days(len(q))
}

// IntervalScore is the score of the central interval [lo, hi] of the given coverage, in (0, 1), when y happened: its width and,
// for a miss, 2/(1-coverage) times by how much it missed.
func IntervalScore(lo, hi unit.Days, coverage float64, y unit.Days) unit.Days {
	miss := max(lo-y, 0) + max(y-hi, 0)
	return hi - lo + unit.Days(2/(1-coverage))*miss
}

// CRPS is the continuous ranked probability score of d when y happened, ∫(F(t) - 1{y≤t})² dt over [0, most]: times beyond
// most count as most (the threshold-weighted score of Gneiting & Ranjan 2011), because a draw of +Inf would make the
// whole infinite. For draws x it is the mean of |x-y| less half the mean of |x-x'|. It is NaN for an unknown time.
func (d Distribution) CRPS(y, most unit.Days) unit.Days {
	n := float64(len(d.draws))
	if n == 0 {
		return unit.Days(math.NaN())
	}
	y = min(y, most)
	off, spread := 0.0, 0.0
	for i, x := range d.draws {
		x = min(x, most)
		off += math.Abs(float64(x - y))
		spread += (2*float64(i) + 1 - n) * float64(x) // Σ|x-x'| over ordered pairs, by rank
	}
	return unit.Days(off/n - spread/(n*n))
}

// PIT is the probability integral transform of y: the share of draws below it, ties counted half. Over many forecasts that
// are honest it is uniform on [0, 1]. It is NaN for an unknown time.
func (d Distribution) PIT(y unit.Days) float64 {
	below := d.CDF(unit.Days(math.Nextafter(float64(y), math.Inf(-1))))
	return (below + d.CDF(y)) / 2
}

// Normal is a normal distribution of a time, SD > 0.
type Normal struct{ Mean, SD unit.Days }

func (n Normal) z(y unit.Days) float64 { return float64((y - n.Mean) / n.SD) }

// CDF is the probability of a time not above y; it is also the PIT.
func (n Normal) CDF(y unit.Days) float64 { return phi(n.z(y)) }

// CRPS is SD·[z(2Φ(z) - 1) + 2φ(z) - 1/√π] with z = (y - Mean)/SD.
func (n Normal) CRPS(y unit.Days) unit.Days {
	z := n.z(y)
	density := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	return n.SD * unit.Days(z*math.Erf(z/math.Sqrt2)+2*density-1/math.Sqrt(math.Pi))
}

// LogScore is minus the logarithm of the density at y, in nats.
func (n Normal) LogScore(y unit.Days) float64 {
	z := n.z(y)
	return z*z/2 + math.Log(float64(n.SD)) + math.Log(2*math.Pi)/2
}

// phi is the standard normal distribution function, exact in both tails.
func phi(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
