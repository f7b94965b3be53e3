package serving

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/gonum/stat"

	"tarebell/forecast/unit"
)

// Amount is a mass with its standard deviation.
type Amount struct{ Mean, SD unit.Grams }

// Bottle is one bottle weighed with plain water before and after it was carbonated as usual.
type Bottle struct{ Before, After unit.Grams }

// Experiment is what the household weighed to learn its serving. Bottles, the cylinder, or both.
type Experiment struct {
	Litres  unit.Litres // drink in one serving, above 0
	Bottles []Bottle
	// ScaleSD is the standard deviation of one reading of the scale for the bottle; resolution d contributes d/√12.
	ScaleSD unit.Grams

	// CylinderBefore and CylinderAfter are gross readings around Servings servings; both 0: not weighed.
	CylinderBefore, CylinderAfter unit.Grams
	Servings                      int
	CylinderSD                    unit.Grams // as ScaleSD
}

// Result is what an Experiment showed, per serving.
type Result struct {
	Uptake    Amount // in the drink, from the bottles
	HasUptake bool
	Drawn     Amount // out of the cylinder
	HasDrawn  bool
	// Lost is the share of what was drawn that went into the air, 1 - Uptake/Drawn, with its standard deviation.
	// HasLost is false when either is missing or Drawn is not known to a quarter of itself.
	Lost, LostSD float64
	HasLost      bool
	// Clash says that more arrived in the bottles than left the cylinder, by over three standard deviations: a
	// reading is wrong, or another bottle was used.
	Clash  bool
	Litres unit.Litres
}

// PerServing is the gas to plan with: what leaves the cylinder if that is known to a quarter of itself, otherwise what
// arrives in the drink, which leaves out what is vented. ok is false when nothing was weighed.
func (r Result) PerServing() (a Amount, ok bool) {
	if r.HasDrawn && (!r.HasUptake || r.Drawn.SD <= r.Drawn.Mean/4) {
		return r.Drawn, true
	}
	return r.Uptake, r.HasUptake
}

// PerLitre is PerServing for a litre of drink.
func (r Result) PerLitre() (mean, sd unit.GramsPerLitre, ok bool) {
	a, ok := r.PerServing()
	return unit.GramsPerLitre(float64(a.Mean) / float64(r.Litres)), unit.GramsPerLitre(float64(a.SD) / float64(r.Litres)), ok
}

// InDrink is what water must hold: what arrived in a litre of it, else what left the cylinder for a litre.
func (r Result) InDrink() (c unit.GramsPerLitre, ok bool) {
	if r.HasUptake {
		return unit.GramsPerLitre(float64(r.Uptake.Mean) / float64(r.Litres)), true
	}
	c, _, ok = r.PerLitre()
	return c, ok
}

const (
	// MostHeld is more CO2 than any drink holds: water at 0 °C under 6 bar takes up 19.6 g/L (Soluble, from Weiss 1974), and pushes beyond
	// that are not made at home (common practice, no source).
	MostHeld unit.GramsPerLitre = 20
	// MostTaken is more than a litre takes from the cylinder, two thirds of it lost; common practice, no source.
	MostTaken unit.GramsPerLitre = 60
)

// Evaluate works out e. The bottles give the uptake as their mean; its variance is the greater of what the scale
// explains, 2s²/n, and what the bottles show among each other, S²/n, as servings by hand differ. The cylinder gives
// (before - after)/n with variance 2s²/n². The share lost follows by propagation of error:
//
//	var(1 - u/d) ≈ (u/d)²·(var(u)/u² + var(d)/d²)
//
// (JCGM 100:2008, 5.1.2, independent readings). Readings that cannot be are errors that say which.
func Evaluate(e Experiment) (Result, error) {
	if err := e.check(); err != nil {
		return Result{}, err
	}
	r := Result{Litres: e.Litres}
	if n := len(e.Bottles); n > 0 {
		r.Uptake, r.HasUptake = uptake(e.Bottles, e.ScaleSD), true
	}
	if e.weighedCylinder() {
		n := float64(e.Servings)
		r.Drawn = Amount{(e.CylinderBefore - e.CylinderAfter) / unit.Grams(n), e.CylinderSD * unit.Grams(math.Sqrt2/n)}
		r.HasDrawn = true
	}
	if !r.HasUptake || !r.HasDrawn {
		return r, nil
	}
	u, d := r.Uptake, r.Drawn
	r.Clash = u.Mean-d.Mean > 3*unit.Grams(math.Hypot(float64(u.SD), float64(d.SD)))
	if !r.Clash && d.Mean > 0 && d.SD <= d.Mean/4 {
		ratio := float64(u.Mean / d.Mean)
		r.Lost, r.HasLost = 1-ratio, true
		r.LostSD = math.Hypot(float64(u.SD/d.Mean), ratio*float64(d.SD/d.Mean))
	}
	return r, nil
}

func uptake(bottles []Bottle, scale unit.Grams) Amount {
	gains := make([]float64, len(bottles))
	for i, b := range bottles {
		gains[i] = float64(b.After - b.Before)
	}
	n := float64(len(gains))
	variance := 2 * float64(scale*scale)
	if len(gains) > 1 {
		variance = max(variance, stat.Variance(gains, nil))
	}
	return Amount{unit.Grams(stat.Mean(gains, nil)), unit.Grams(math.Sqrt(variance / n))}
}

func (e Experiment) weighedCylinder() bool { return e.CylinderBefore != 0 || e.CylinderAfter != 0 }

// check lists every reading that cannot be.
func (e Experiment) check() error {
	var wrong []error
	say := func(format string, args ...any) { wrong = append(wrong, fmt.Errorf(format, args...)) }
	if !(e.Litres > 0 && e.Litres <= 50) {
		say("serving of %g L: must be above 0 and at most 50, such as 0.84", float64(e.Litres))
	}
	if len(e.Bottles) == 0 && !e.weighedCylinder() {
		say("nothing weighed: weigh a bottle before and after, or the cylinder before and after some servings")
	}
	if !(e.ScaleSD >= 0 && e.CylinderSD >= 0) {
		say("standard deviations %g g and %g g: must be 0 or more", float64(e.ScaleSD), float64(e.CylinderSD))
	}
	for i, b := range e.Bottles {
		gain := b.After - b.Before
		switch {
		case !(b.Before > 0 && b.After > 0) || math.IsInf(float64(gain), 0) || math.IsNaN(float64(gain)):
			say("bottle %d: %g g before and %g g after: both must be above 0", i+1, float64(b.Before), float64(b.After))
		case gain < -3*math.Sqrt2*e.ScaleSD:
			say("bottle %d: %s before and %s after: carbonating makes it heavier; were the two swapped, or was some spilt?", i+1, tenths(b.Before), tenths(b.After))
		case float64(gain) > float64(MostHeld)*float64(e.Litres):
			say("bottle %d: %s more: water takes up at most about %g g per litre; was the bottle filled in between, or another unit used?", i+1, tenths(gain), float64(MostHeld))
		}
	}
	if e.weighedCylinder() {
		gone := e.CylinderBefore - e.CylinderAfter
		switch {
		case !(e.CylinderBefore > 0 && e.CylinderAfter > 0) || math.IsInf(float64(gone), 0) || math.IsNaN(float64(gone)):
			say("cylinder: %g g before and %g g after: both must be above 0", float64(e.CylinderBefore), float64(e.CylinderAfter))
		case e.Servings < 1:
			say("cylinder: %d servings between its two readings: must be 1 or more", e.Servings)
		case gone < -3*math.Sqrt2*e.CylinderSD:
			say("cylinder: %s before and %s after: it cannot get heavier; were the two swapped?", tenths(e.CylinderBefore), tenths(e.CylinderAfter))
		case len(e.Bottles) == 0 && gone < 4*math.Sqrt2*e.CylinderSD:
			say("cylinder: %s less is no measurement on a scale with steps of %s; take servings until it shows two steps less", tenths(max(0, gone)), tenths(e.CylinderSD*unit.Grams(math.Sqrt(12))))
		case float64(gone-3*math.Sqrt2*e.CylinderSD) > float64(MostTaken)*float64(e.Litres)*float64(e.Servings):
			say("cylinder: %s less for %g L: water takes up at most about %g g per litre, and with what is lost no more than %g g leave for it; is the unit right, or were there more servings?",
				tenths(gone), float64(e.Litres)*float64(e.Servings), float64(MostHeld), float64(MostTaken))
		}
	}
	return errors.Join(wrong...)
}

// tenths prints a mass to a tenth of a gram.
func tenths(m unit.Grams) string {
	return strconv.FormatFloat(math.Round(10*float64(m))/10, 'f', -1, 64) + " g"
}
