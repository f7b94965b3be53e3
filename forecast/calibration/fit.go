// Package calibration finds the zero and span of a scale from known masses, says how good the scale is
// against the error limits of OIML R 76, and notices the usual mistakes: a mass typed in the wrong unit, a known
// mass that is not what it says, a scale that speaks pounds.
package calibration

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"tarebell/forecast/unit"
)

// Load is one known mass put on the platform. An empty platform is a load of 0.
type Load struct {
	Mass     unit.Grams
	Readings []float64 // what the scale said, once or several times: counts, or weights in Line.GramsPerUnit
	Place    string    // empty: the middle; otherwise where off it, such as "front left"
}

// Line turns readings into mass: gross = (reading - Zero)/PerUnit units of GramsPerUnit each.
type Line struct {
	Zero         float64 // reading of the empty platform
	PerUnit      float64 // counts for one unit more; negative if counts fall
	GramsPerUnit float64 // 1000 for kg, 453.59237 for lb
}

// Gross is the mass that a reading stands for.
func (l Line) Gross(reading float64) unit.Grams {
	return unit.Grams((reading - l.Zero) / l.PerUnit * l.GramsPerUnit)
}

// UnitsPerCount is 1/PerUnit, the form in which some firmware wants the span.
func (l Line) UnitsPerCount() float64 { return 1 / l.PerUnit }

// Options is what Fit should know beside the loads.
type Options struct {
	GramsPerUnit float64 // unit of the line; 0: kg
	// Interval is the verification interval e to judge by, usually the step of the display. 0: the finest step of
	// the series 1, 2, 5 that is not below a 3000th of the largest load.
	Interval unit.Grams
	// Weights says that readings are weights already, in GramsPerUnit; the line then corrects them and PerUnit
	// should be near 1.
	Weights  bool
	Previous Line // the line used so far; zero: none
}

// Result is a calibration.
type Result struct {
	Line       Line
	Assessment         // of the loads by Line
	Doubts     []Doubt // mistakes to clear up before using Line; most telling first
	// ResidualSD is the standard deviation of a reading about the line in grams, with its degrees of freedom, 0 when
	// two readings leave nothing over; then nothing says how good the calibration is.
	ResidualSD unit.Grams
	Freedom    int

	n          float64
	mean, sumS float64 // of the masses, g and g²
}

// SD is the standard deviation of the calibrated zero and span, together, at a gross mass m:
// s·√(1/n + (m - m̄)²/S). ok is false without degrees of freedom.
func (r Result) SD(m unit.Grams) (sd unit.Grams, ok bool) {
	d := float64(m) - r.mean
	return r.ResidualSD * unit.Grams(math.Sqrt(1/r.n+d*d/r.sumS)), r.Freedom > 0
}

// Fit finds the line of least squares
//
//	reading = zero + k·mass,  k = S_mr/S_mm,  zero = r̄ - k·m̄,
//
// over all readings in the middle of the platform, taking the masses as exact, and judges the loads by it.
//
// It needs two different masses there. Masses are 0 or more, readings finite, and readings must change with the mass.
// All mistakes come as one error, each naming the load by its place in the list, from 1.
func Fit(loads []Load, o Options) (Result, error) {
	if o.GramsPerUnit == 0 {
		o.GramsPerUnit = unit.GramsPerKilogram
	}
	if err := check(loads, o); err != nil {
		return Result{}, err
	}
	f, ok := regress(loads, nil)
	if !ok {
		return Result{}, errors.New("calibration: want at least two different masses in the middle of the platform; the empty platform is one of them, with mass 0")
	}
	if f.slope == 0 || o.Weights && f.slope < 0 {
		return Result{}, fmt.Errorf("calibration: readings do not rise with the mass (%.6g per kg): is the load cell connected, and the right way round?", f.slope*1000)
	}
	r := Result{
		Line:    Line{f.zero, f.slope * o.GramsPerUnit, o.GramsPerUnit},
		Freedom: int(f.n) - 2, n: f.n, mean: f.mean, sumS: f.sumS,
	}
	if r.Freedom > 0 {
		r.ResidualSD = unit.Grams(math.Sqrt(f.rss/float64(r.Freedom)) / math.Abs(f.slope))
	}
	if o.Interval == 0 {
		o.Interval = usual(loads)
	}
	var err error
	if r.Assessment, err = Assess(r.Line, loads, o.Interval); err != nil {
		return Result{}, err
	}
	r.Doubts = append(spanDoubts(r.Line, o), loadDoubts(loads, f, o.Interval)...)
	return r, nil
}

// regression is a line of least squares in readings and grams.
type regression struct {
	zero, slope float64 // reading at no mass; readings per gram
	n           float64
	mean, sumS  float64 // mean mass and sum of squares about it
	rss         float64 // residual sum of squares of the readings
}

// mass is what the line makes of a reading, g.
func (f regression) mass(reading float64) float64 { return (reading - f.zero) / f.slope }

// regress fits the readings in the middle, without the loads to leave out. ok is false with fewer than two
// different masses.
func regress(loads []Load, leaveOut map[int]bool) (f regression, ok bool) {
	var masses, readings []float64
	for i, l := range loads {
		if l.Place != "" || leaveOut[i] {
			continue
		}
		for _, r := range l.Readings {
			masses, readings = append(masses, float64(l.Mass)), append(readings, r)
		}
	}
	f.n, f.mean = float64(len(masses)), stat.Mean(masses, nil)
	for _, m := range masses {
		f.sumS += (m - f.mean) * (m - f.mean)
	}
	if !(f.sumS > 0) {
		return f, false
	}
	f.zero, f.slope = stat.LinearRegression(masses, readings, nil, false)
	for i, m := range masses {
		e := readings[i] - f.zero - f.slope*m
		f.rss += e * e
	}
	return f, true
}

func check(loads []Load, o Options) error {
	var wrong []error
	if !(o.GramsPerUnit > 0) || math.IsInf(o.GramsPerUnit, 0) || !(o.Interval >= 0) || math.IsInf(float64(o.Interval), 0) {
		wrong = append(wrong, fmt.Errorf("unit of %g g and interval of %g g: must be above 0", o.GramsPerUnit, float64(o.Interval)))
	}
	for i, l := range loads {
		if !(l.Mass >= 0) || math.IsInf(float64(l.Mass), 0) {
			wrong = append(wrong, fmt.Errorf("load %d: mass %g g: must be 0 or more", i+1, float64(l.Mass)))
		}
		if len(l.Readings) == 0 {
			wrong = append(wrong, fmt.Errorf("load %d: no reading", i+1))
		}
		for _, r := range l.Readings {
			if math.IsNaN(r) || math.IsInf(r, 0) {
				wrong = append(wrong, fmt.Errorf("load %d: reading %g: not a number", i+1, r))
			}
		}
	}
	if err := errors.Join(wrong...); err != nil {
		return fmt.Errorf("calibration: %w", err)
	}
	return nil
}
