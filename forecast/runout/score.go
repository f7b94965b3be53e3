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

// PIT is the probability integral transform of y: the share of draws below it, ties counted half. Over many forecasts that
// are honest it is uniform on [0, 1]. It is NaN for an unknown time.
func (d Distribution) PIT(y unit.Days) float64 {
	below := d.CDF(unit.Days(math.Nextafter(float64(y), math.Inf(-1))))
	return (below + d.CDF(y)) / 2
}
