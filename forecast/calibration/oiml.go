package calibration

import (
	"fmt"
	"math"

	"tarebell/forecast/unit"
)

// Class is an accuracy class of OIML R 76.
type Class int

// The accuracy classes: special, high, medium, ordinary. Household and shop scales are medium or ordinary.
const (
	ClassI Class = iota + 1
	ClassII
	ClassIII
	ClassIIII
)

// band is a range of loads, up to so many intervals, with its error limit in intervals.
type band struct{ upTo, mpe float64 }

// bands is OIML R 76-1, Table 6: maximum permissible errors on initial verification.
var bands = map[Class][3]band{
	ClassI:    {{50000, 0.5}, {200000, 1}, {math.Inf(1), 1.5}},
	ClassII:   {{5000, 0.5}, {20000, 1}, {100000, 1.5}},
	ClassIII:  {{500, 0.5}, {2000, 1}, {10000, 1.5}},
	ClassIIII: {{50, 0.5}, {200, 1}, {1000, 1.5}},
}

// MPE is the maximum permissible error, plus or minus, of a scale of class c with verification interval e at
// a load, on initial verification: 0.5, 1 or 1.5 e, by bands of load/e. In service it is twice that.
//
// e is above 0 and load 0 or more; a load of more intervals than the class allows (III: 10,000) is an error.
// Source: OIML R 76-1, tables 3 and 6 and 3.5.2.
func MPE(c Class, e, load unit.Grams) (unit.Grams, error) {
	if !(e > 0) || !(load >= 0) || math.IsInf(float64(load), 0) {
		return 0, fmt.Errorf("error limit for %g g at an interval of %g g: want a load of 0 or more and an interval above 0", float64(load), float64(e))
	}
	for _, b := range bands[c] {
		if float64(load/e) <= b.upTo*(1+1e-12) {
			return e * unit.Grams(b.mpe), nil
		}
	}
	return 0, fmt.Errorf("error limit for %g g at an interval of %g g: that is %.0f intervals, more than the class has", float64(load), float64(e), float64(load/e))
}

// InService is the error limit of a scale in use, twice that on initial verification (OIML R 76-1, 3.5.2).
func InService(c Class, e, load unit.Grams) (unit.Grams, error) {
	m, err := MPE(c, e, load)
	return 2 * m, err
}

// steps are the series 1, 2, 5 that verification intervals are taken from (OIML R 76-1, 3.2), from 0.1 g, the finest of class III, to 1 kg.
func steps(yield func(e unit.Grams) bool) {
	for _, decade := range []unit.Grams{0.1, 1, 10, 100} {
		for _, digit := range []unit.Grams{1, 2, 5} {
			if !yield(decade * digit) {
				return
			}
		}
	}
	yield(1000)
}

// usual is the interval to judge by when none is given: the finest with at most 3000 of them in the largest load,
// as is common for scales of class III (common practice, no source), and the largest where none is so fine.
func usual(loads []Load) (e unit.Grams) {
	largest := unit.Grams(0)
	for _, l := range loads {
		largest = max(largest, l.Mass)
	}
	for e = range steps {
		if largest/e <= 3000 {
			break
		}
	}
	return e
}
