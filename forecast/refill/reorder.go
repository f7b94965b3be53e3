package refill

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/unit"
)

// Demand is use and lead time as means with standard deviations, for the textbook special case.
type Demand struct {
	Use, UseSD   unit.GramsPerDay // SD: of one day's use, days independent
	Lead, LeadSD unit.Days
}

// ReorderPoint is the usable gas at which to book when a day's use and the lead time are independent and normal:
//
//	ROP = d·L + z·√(L·σd² + d²·σL²),  z = Φ⁻¹(1 - risk);  safety stock = the second term.
//
// d is use in g/day, L the lead time in days, σd and σL their standard deviations, all 0 or more; risk lies in
// (0, 0.5], the probability of running dry per refill. Anything else is an error.
//
// Policy.Plan needs none of these assumptions; this is what it comes to where they hold, and a figure to show
// beside it. Source: any operations textbook, such as Stevenson, Operations Management, 14th ed., chapter on
// inventory; Taylor, Introduction to Management Science, chapter 16.
func (d Demand) ReorderPoint(risk float64) (point, safety unit.Grams, err error) {
	use, lead := float64(d.Use), float64(d.Lead)
	useSD, leadSD := float64(d.UseSD), float64(d.LeadSD)
	for _, x := range []float64{use, lead, useSD, leadSD} {
		if !(x >= 0) || math.IsInf(x, 0) {
			return 0, 0, fmt.Errorf("reorder point for %+v: means and standard deviations must be 0 or more", d)
		}
	}
	if !(risk > 0 && risk <= 0.5) {
		return 0, 0, fmt.Errorf("reorder point at risk %g: must be above 0 and at most 0.5", risk)
	}
	z := distuv.UnitNormal.Quantile(1 - risk)
	safety = unit.Grams(z * math.Sqrt(lead*useSD*useSD+use*use*leadSD*leadSD))
	return d.Use.Over(d.Lead) + safety, safety, nil
}
