package refill

import (
	"math"

	"tarebell/forecast/unit"
)

// LoadConstant is the heaviest lift that the revised NIOSH lifting equation recommends under ideal
// conditions, 23 kg (51 lb): close to the body, knee to shoulder, good grip, no twist, seldom. Every real lift is
// below it. Waters, Putz-Anderson, Garg, Applications Manual for the Revised NIOSH Lifting Equation, DHHS (NIOSH)
// publication 94-110 (1994); from memory.
const LoadConstant unit.Grams = 23_000

// Carry is what it takes to move a cylinder of some gross weight by hand.
type Carry struct {
	Gross     unit.Grams
	Persons   int  // least number that keeps everyone's share within the load constant
	HandTruck bool // needed: two persons are not enough
}

// CarryHelp is the help that a cylinder of gross weight needs. A gross of 0 or less, or not a number, needs nobody.
//
// It counts persons as ⌈gross/23 kg⌉, and a hand truck when two are not enough: more than two cannot well hold
// one cylinder (common practice, no source). Stairs, a bad grip or a bad back call for more help than this.
// Valve closed, cap on, upright, strapped to the truck; never rolled or lifted by the valve.
func CarryHelp(gross unit.Grams) Carry {
	if !(gross > 0) || math.IsInf(float64(gross), 0) {
		return Carry{}
	}
	persons := int(math.Ceil(float64(gross / LoadConstant)))
	return Carry{Gross: gross, Persons: persons, HandTruck: persons > 2}
}
