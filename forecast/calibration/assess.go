package calibration

import (
	"fmt"
	"math"
	"slices"

	"tarebell/forecast/unit"
)

// LoadError is how one load fared.
type LoadError struct {
	Load   int // index in the list of loads
	Mass   unit.Grams
	Place  string
	Error  unit.Grams // mean of its readings by the line, less its mass
	Spread unit.Grams // largest less smallest of its readings
	Limit  unit.Grams // permitted in service
	Within bool
}

// Assessment is how good a scale is by known masses, against class III of OIML R 76.
type Assessment struct {
	Interval unit.Grams // verification interval e judged by
	Errors   []LoadError
	// Nonlinearity is the error of the load in the middle of the platform that lies farthest off the line.
	Nonlinearity unit.Grams
	// Repeatability is the largest spread of one load's readings; R 76 allows the error limit of that load (3.6.1).
	Repeatability    unit.Grams
	HasRepeatability bool // some load was read more than once
	// Eccentricity is the error farthest from what the same mass shows in the middle (or the line, if it was not
	// put there); each place has to keep the error limit (3.6.2).
	Eccentricity    unit.Grams
	HasEccentricity bool
	// InService and Initial say that all errors and spreads keep the limits in service, and on initial verification.
	// This is no verification: that takes test weights of known uncertainty and whoever is licensed to do it.
	InService, Initial bool
	// Finest is the finest interval with which the scale would keep the limits of class III in service; 0
	// when even 1 kg is too fine.
	Finest unit.Grams
}

// Assess holds loads against line with verification interval e, for a new line or to re-check one in use. It is
// an error when a load is more than 10,000 intervals, or line has no span.
func Assess(line Line, loads []Load, e unit.Grams) (Assessment, error) {
	if line.PerUnit == 0 || !(line.GramsPerUnit > 0) {
		return Assessment{}, fmt.Errorf("assessing a scale: span of %g per unit of %g g", line.PerUnit, line.GramsPerUnit)
	}
	a := Assessment{Interval: e, InService: true, Initial: true}
	for i, l := range loads {
		limit, err := InService(ClassIII, e, l.Mass)
		if err != nil {
			return Assessment{}, fmt.Errorf("load %d: %w", i+1, err)
		}
		le := loadError(line, l)
		le.Load, le.Limit = i, limit
		le.Within = le.keeps(limit)
		a.InService = a.InService && le.Within
		a.Initial = a.Initial && le.keeps(limit/2)
		a.Errors = append(a.Errors, le)
	}
	a.summarise(loads)
	a.Finest = finest(a.Errors)
	return a, nil
}

func loadError(line Line, l Load) LoadError {
	sum, low, high := unit.Grams(0), unit.Grams(math.Inf(1)), unit.Grams(math.Inf(-1))
	for _, r := range l.Readings {
		m := line.Gross(r)
		sum += m
		low, high = min(low, m), max(high, m)
	}
	return LoadError{Mass: l.Mass, Place: l.Place, Error: sum/unit.Grams(len(l.Readings)) - l.Mass, Spread: high - low}
}

// keeps reports whether error and spread are within limit, but for rounding.
func (e LoadError) keeps(limit unit.Grams) bool {
	limit += 1e-9 * (1 + e.Mass)
	return unit.Grams(math.Abs(float64(e.Error))) <= limit && e.Spread <= limit
}

func (a *Assessment) summarise(loads []Load) {
	farther := func(worst, x unit.Grams) unit.Grams {
		if math.Abs(float64(x)) > math.Abs(float64(worst)) {
			return x
		}
		return worst
	}
	for i, le := range a.Errors {
		if len(loads[i].Readings) > 1 {
			a.HasRepeatability = true
			a.Repeatability = max(a.Repeatability, le.Spread)
		}
		if le.Place == "" {
			a.Nonlinearity = farther(a.Nonlinearity, le.Error)
			continue
		}
		a.HasEccentricity = true
		middle := slices.IndexFunc(a.Errors, func(o LoadError) bool { return o.Place == "" && o.Mass == le.Mass })
		shift := le.Error
		if middle >= 0 {
			shift -= a.Errors[middle].Error
		}
		a.Eccentricity = farther(a.Eccentricity, shift)
	}
}

func finest(errors []LoadError) unit.Grams {
	for e := range steps {
		if !slices.ContainsFunc(errors, func(le LoadError) bool {
			limit, err := InService(ClassIII, e, le.Mass)
			return err != nil || !le.keeps(limit)
		}) {
			return e
		}
	}
	return 0
}
