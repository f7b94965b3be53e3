package calibration

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"tarebell/forecast/unit"
)

// DoubtKind is a likely mistake.
type DoubtKind int

// The doubts.
const (
	// ScaleUnit: the scale speaks another unit than it is taken for, or all masses were typed in another.
	ScaleUnit DoubtKind = iota
	// SpanFar: the span is off by more than a tenth, and not by a unit.
	SpanFar
	// TypedUnit: one known mass was typed in another unit.
	TypedUnit
	// WrongMass: one known mass is not what it says.
	WrongMass
	// OneWrong: one of these masses is wrong, and another one would show which. With a Mix, its first load may be
	// that; the same readings then also fit the opposite mix of another load.
	OneWrong
	// NotStraight: the readings do not lie on a line and no single mass explains it.
	NotStraight
)

// Doubt is one likely mistake in a calibration.
type Doubt struct {
	Kind  DoubtKind
	Loads []int      // indices of the loads concerned; none for the span
	Mix   Mix        // of ScaleUnit and TypedUnit
	Ratio float64    // of ScaleUnit and SpanFar: the span over what it should be
	Mass  unit.Grams // of TypedUnit and WrongMass: what the other loads say it weighs
}

// Mix is two units taken for each other. Something in Is was taken for the same number of Taken; a true mass is Factor
// times the one it was taken for.
type Mix struct {
	Is, Taken string
	Factor    float64
}

// mixes are the usual ones.
var mixes = []Mix{
	{"lb", "kg", unit.GramsPerPound / unit.GramsPerKilogram},
	{"kg", "lb", unit.GramsPerKilogram / unit.GramsPerPound},
	{"g", "kg", 1. / 1000},
	{"kg", "g", 1000},
	{"oz", "lb", 1. / 16},
	{"lb", "oz", 16},
	{"oz", "g", unit.GramsPerOunce},
	{"g", "oz", 1 / unit.GramsPerOunce},
}

// mixOf is the mix whose factor is within 3 % of x: less than what lies between any two, more than any scale
// worth calibrating is off.
func mixOf(x float64) (Mix, bool) {
	for _, m := range mixes {
		if math.Abs(x/m.Factor-1) <= 0.03 {
			return m, true
		}
	}
	return Mix{}, false
}

// spanDoubts holds the span against 1 for readings that are weights, and against the previous line.
func spanDoubts(l Line, o Options) []Doubt {
	var ratio float64
	switch {
	case o.Previous.PerUnit != 0 && o.Previous.GramsPerUnit > 0:
		ratio = (l.PerUnit / l.GramsPerUnit) / (o.Previous.PerUnit / o.Previous.GramsPerUnit)
	case o.Weights:
		ratio = l.PerUnit
	default:
		return nil
	}
	// A span of 2.2046 says that a mass of one unit shows as 2.2046: it is 0.4536 times what it is taken for.
	if m, ok := mixOf(1 / ratio); ok {
		return []Doubt{{Kind: ScaleUnit, Mix: m, Ratio: ratio}}
	}
	if math.Abs(ratio-1) > 0.1 {
		return []Doubt{{Kind: SpanFar, Ratio: ratio}}
	}
	return nil
}

// loadDoubts looks for a known mass that does not belong. When a load lies off the line of all by more than its
// limit, each load but the empty platform is left out in turn: it is suspect when the others then agree among
// themselves and not with it.
func loadDoubts(loads []Load, all regression, e unit.Grams) []Doubt {
	if straight(loads, all, e, nil) {
		return nil
	}
	var suspects, units []Doubt
	for i, l := range loads {
		if l.Place != "" || l.Mass == 0 {
			continue
		}
		leaveOut := map[int]bool{i: true}
		f, ok := regress(loads, leaveOut)
		if !ok || f.slope == 0 || !straight(loads, f, e, leaveOut) {
			continue
		}
		mass := f.mass(stat.Mean(l.Readings, nil))
		d := Doubt{Kind: WrongMass, Loads: []int{i}, Mass: unit.Grams(mass)}
		suspects = append(suspects, d)
		if m, ok := mixOf(mass / float64(l.Mass)); ok {
			d.Kind, d.Mix = TypedUnit, m
			units = append(units, d)
		}
	}
	switch {
	case len(units) == 1:
		return units
	case len(suspects) == 1:
		return suspects
	case len(suspects) > 1:
		one := Doubt{Kind: OneWrong}
		if len(units) > 0 {
			one.Mix = units[0].Mix
		}
		for _, s := range suspects {
			one.Loads = append(one.Loads, s.Loads...)
		}
		return []Doubt{one}
	default:
		return []Doubt{{Kind: NotStraight}}
	}
}

// straight reports whether every load in the middle lies within its limit of f, or within four standard deviations of
// what its readings scatter among themselves.
func straight(loads []Load, f regression, e unit.Grams, leaveOut map[int]bool) bool {
	for i, l := range loads {
		if l.Place != "" || leaveOut[i] {
			continue
		}
		limit, err := InService(ClassIII, e, l.Mass)
		if err != nil {
			continue
		}
		off := math.Abs(f.mass(stat.Mean(l.Readings, nil)) - float64(l.Mass))
		if off > max(float64(limit), 4*scatter(l.Readings)/math.Abs(f.slope)) {
			return false
		}
	}
	return true
}

// scatter is the standard deviation of the mean of x, 0 for a single reading.
func scatter(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	return stat.StdErr(stat.StdDev(x, nil), float64(len(x)))
}
