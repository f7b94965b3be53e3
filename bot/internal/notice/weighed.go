package notice

import (
	"math"

	"tarebell/forecast/unit"
)

// Dry says that nothing usable is left.
func (v Voice) Dry(s Situation) string {
	return s.the() + " ran dry at " + v.Moment(s.Dry, s.Now) + ": no usable gas is left."
}

// plain is how far gas told and gas weighed may be apart without a word, as a share of a fill: less is lost in the rounding.
const plain = 0.02

// WeighedUp says why less or more gas is told than the weight alone would show; "" when it is the same.
func (v Voice) WeighedUp(s Situation, gross unit.Grams, net bool) string {
	alone := gross - s.House
	usable := alone - unit.Grams(s.Outlook.Heel)
	told := v.Mass(s.usable())
	switch {
	case !s.Outlook.Known:
		return ""
	case v.Mass(usable) != told && usable > 0 && (net || math.Abs(float64(usable-s.usable())) > plain*float64(s.GrossFull-s.GrossEmpty)):
		return "By this weight alone it would be " + v.Mass(usable) + "; weights are weighed up against each other."
	case net && v.Mass(alone) != told:
		return "The last " + v.Small(unit.Grams(s.Outlook.Heel)) + " are too thin to carbonate, so they are left out."
	}
	return ""
}
