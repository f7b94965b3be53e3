package serving

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

// Common practice, no source: a 0.84 L bottle takes up about 3 g at three short bursts; strongly carbonated water takes
// about 9 g per litre. The arithmetic has to give a light and a strong carbonation, and the physics a pressure that a
// regulator has.
func TestFactsOfTheTrade(t *testing.T) {
	light := Serving{Litres: 0.84, CO2: 3}
	reftest.Within(t, "three bursts, volumes", float64(InVolumes(light.PerLitre())), 1.8, 0.05)
	reftest.Within(t, "strong, volumes", float64(InVolumes(9)), 4.55, 0.01)
	less, err1 := Soluble(unit.Bar(3), 5)
	more, err2 := Soluble(unit.Bar(4), 5)
	if less > 9 || more < 9 || err1 != nil || err2 != nil {
		t.Errorf("at 5 °C water holds %.1f g/L at 3 bar and %.1f at 4, %v, %v", float64(less), float64(more), err1, err2)
	}
	// 50 lb at one litre a day of 9 g, and at 2.33 g a day (common practice, no source): 2,520 and 9,730 days.
	all := unit.Pounds(50)
	reftest.Within(t, "one litre a day", Serving{CO2: 9}.Servings(all), 2520, 1)
	reftest.Within(t, "2.33 g a day", Serving{CO2: 2.33}.Servings(all), 9730, 5)
}

func TestEvaluate(t *testing.T) {
	bottles := []Bottle{{1380, 1386}, {1382, 1387}, {1379, 1386}}
	r, err := Evaluate(Experiment{Litres: 0.84, Bottles: bottles, ScaleSD: 0.3, CylinderBefore: 23000, CylinderAfter: 22840, Servings: 20, CylinderSD: 10})
	if err != nil {
		t.Fatal(err)
	}
	reftest.Near(t, "uptake", float64(r.Uptake.Mean), 6, 1e-12)
	reftest.Near(t, "its deviation: S = 1 over √3", float64(r.Uptake.SD), 1/math.Sqrt(3), 1e-12)
	reftest.Near(t, "drawn", float64(r.Drawn.Mean), 8, 1e-12)
	reftest.Near(t, "its deviation: 10·√2/20", float64(r.Drawn.SD), math.Sqrt2/2, 1e-12)
	if !r.HasLost || r.Clash {
		t.Fatalf("%+v", r)
	}
	reftest.Near(t, "lost", r.Lost, 0.25, 1e-12)
	reftest.Near(t, "its deviation", r.LostSD, 0.75*math.Hypot(1/math.Sqrt(3)/6, math.Sqrt2/2/8), 1e-12)
	if c, sd, ok := r.PerLitre(); !ok || math.Abs(float64(c)-8/0.84) > 1e-9 || math.Abs(float64(sd)-math.Sqrt2/2/0.84) > 1e-9 {
		t.Errorf("per litre %v ± %v, %v", c, sd, ok)
	}
}

func TestEvaluateParts(t *testing.T) {
	rows := []struct {
		what  string
		e     Experiment
		per   unit.Grams
		lost  bool
		clash bool
	}{
		{"bottle alone", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1386}}, ScaleSD: 1}, 6, false, false},
		{"cylinder alone", Experiment{Litres: 0.84, CylinderBefore: 23000, CylinderAfter: 22840, Servings: 20, CylinderSD: 25}, 8, false, false},
		{"four fifths lost at the valve", Experiment{Litres: 0.84, CylinderBefore: 23000, CylinderAfter: 22160, Servings: 20, CylinderSD: 1}, 42, false, false},
		{"cylinder too coarse for one serving: the bottle counts", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1386}}, ScaleSD: 1, CylinderBefore: 23000, CylinderAfter: 22990, Servings: 1, CylinderSD: 20}, 6, false, false},
		{"cylinder known to a fifth", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1386}}, ScaleSD: 1, CylinderBefore: 23000, CylinderAfter: 22920, Servings: 10, CylinderSD: 11.3}, 8, true, false},
		{"to a third only: the bottle counts", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1386}}, ScaleSD: 1, CylinderBefore: 23000, CylinderAfter: 22920, Servings: 10, CylinderSD: 18.9}, 6, false, false},
		{"2.3 sigma more in the bottle", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1391.26}}, ScaleSD: 1, CylinderBefore: 23000, CylinderAfter: 22840, Servings: 20, CylinderSD: 1}, 8, true, false},
		{"3.7 sigma more", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1393.24}}, ScaleSD: 1, CylinderBefore: 23000, CylinderAfter: 22840, Servings: 20, CylinderSD: 1}, 8, false, true},
		{"two sigma lighter may be the scale", Experiment{Litres: 0.84, Bottles: []Bottle{{1386, 1383}}, ScaleSD: 1}, -3, false, false},
		{"a keg", Experiment{Litres: 45, CylinderBefore: 23000, CylinderAfter: 22700, Servings: 1, CylinderSD: 10}, 300, false, false},
		{"five sigma less", Experiment{Litres: 0.84, CylinderBefore: 23000, CylinderAfter: 22930, Servings: 10, CylinderSD: 10}, 7, false, false},
		{"two sigma more", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1386}}, ScaleSD: 1, CylinderBefore: 23000, CylinderAfter: 23030, Servings: 10, CylinderSD: 10}, 6, false, true},
		{"more in the bottle than left the cylinder", Experiment{Litres: 0.84, Bottles: []Bottle{{1380, 1392}}, ScaleSD: 0.5, CylinderBefore: 23000, CylinderAfter: 22840, Servings: 20, CylinderSD: 5}, 8, false, true},
	}
	for _, row := range rows {
		r, err := Evaluate(row.e)
		if err != nil {
			t.Errorf("%s: %v", row.what, err)
			continue
		}
		if a, ok := r.PerServing(); !ok || a.Mean != row.per || r.HasLost != row.lost || r.Clash != row.clash {
			t.Errorf("%s: %+v", row.what, r)
		}
	}
}

func TestEvaluateMistakes(t *testing.T) {
	ok := Bottle{1380, 1386}
	rows := []struct {
		e    Experiment
		says string
	}{
		{Experiment{Litres: 0.84}, "nothing weighed"},
		{Experiment{Bottles: []Bottle{ok}}, "serving of 0 L"},
		{Experiment{Litres: 0.84, Bottles: []Bottle{ok, {1386, 1380}}, ScaleSD: 1}, "bottle 2: 1386 g before and 1380 g after: carbonating makes it heavier"},
		{Experiment{Litres: 0.84, Bottles: []Bottle{{1386, 1381}}, ScaleSD: 1}, "carbonating makes it heavier"},
		{Experiment{Litres: 0.84, Bottles: []Bottle{ok}, ScaleSD: 1, CylinderBefore: 23000, CylinderAfter: 23050, Servings: 10, CylinderSD: 10}, "it cannot get heavier"},
		{Experiment{Litres: 0.84, CylinderBefore: 23000, CylinderAfter: 22955, Servings: 10, CylinderSD: 10}, "is no measurement"},
		{Experiment{Litres: 70, Bottles: []Bottle{ok}}, "serving of 70 L"},
		{Experiment{Litres: 0.84, Bottles: []Bottle{{540, 1386}}}, "bottle 1: 846 g more"},
		{Experiment{Litres: 0.84, Bottles: []Bottle{{0, 6}}}, "bottle 1: 0 g before"},
		{Experiment{Litres: 0.84, CylinderBefore: 22840, CylinderAfter: 23000, Servings: 20, CylinderSD: 10}, "it cannot get heavier"},
		{Experiment{Litres: 0.84, CylinderBefore: 23000, CylinderAfter: 22840}, "0 servings"},
		{Experiment{Litres: 0.84, CylinderBefore: 21300, CylinderAfter: 21200, Servings: 1, CylinderSD: 100 / unit.Grams(math.Sqrt(12))}, "100 g less is no measurement on a scale with steps of 100 g"},
		{Experiment{Litres: 1, CylinderBefore: 21300, CylinderAfter: 21225, Servings: 1, CylinderSD: 1}, "75 g less for 1 L"},
		{Experiment{Litres: 0.84, CylinderBefore: 21300, CylinderAfter: 21200, Servings: 1, CylinderSD: 1}, "100 g less for 0.84 L: water takes up at most about 20 g per litre"},
		{Experiment{Litres: 0.84, CylinderBefore: 23000, CylinderAfter: unit.Grams(math.NaN()), Servings: 1}, "NaN g after"},
		{Experiment{Litres: 0.84, Bottles: []Bottle{ok}, ScaleSD: -1}, "standard deviations -1 g"},
		{Experiment{Litres: 99, CylinderBefore: 22840, CylinderAfter: 23000, Servings: 20}, "serving of 99 L: must be above 0 and at most 50, such as 0.84\ncylinder: 22840"},
	}
	for _, row := range rows {
		if r, err := Evaluate(row.e); err == nil || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%+v: %+v, %v; want %q", row.e, r, err, row.says)
		}
	}
}

// Simulated experiments with known truth: the share lost is within two standard deviations of the truth in about 95 %.
// 2000 experiments: the binomial 4-sigma band around 0.9545 is ±0.019; 0.02 more for the approximations.
func TestLostIsCalibrated(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1)) // seed 7, 1
	const n, bottles, servings = 2000, 8, 40
	inside := 0
	for range n {
		e := Experiment{Litres: 0.84, ScaleSD: 0.5, CylinderSD: 10, Servings: servings, CylinderBefore: 23000 + unit.Grams(10*rng.NormFloat64())}
		drawn := 0.0
		for range servings {
			drawn += 8 + rng.NormFloat64()
		}
		e.CylinderAfter = 23000 - unit.Grams(drawn) + unit.Grams(10*rng.NormFloat64())
		for range bottles {
			e.Bottles = append(e.Bottles, Bottle{
				1380 + unit.Grams(0.5*rng.NormFloat64()),
				1386 + unit.Grams(0.75*rng.NormFloat64()) + unit.Grams(0.5*rng.NormFloat64()),
			})
		}
		r, err := Evaluate(e)
		if err != nil || !r.HasLost {
			t.Fatalf("%+v %v", r, err)
		}
		if math.Abs(r.Lost-0.25) <= 2*r.LostSD {
			inside++
		}
	}
	if share := float64(inside) / n; math.Abs(share-0.9545) > 0.039 {
		t.Errorf("%.4f within two standard deviations", share)
	}
}

func TestJudge(t *testing.T) {
	// 4 bar gauge at 8 °C: water holds about 12 g/L; 9 are below it, 15 are not.
	p := unit.Bar(4) + unit.PascalsPerAtmosphere
	within, err := Judge(9, p, 8)
	if err != nil || within.Vented != 0 || !(within.Share > 0.6 && within.Share < 0.9) {
		t.Errorf("%+v %v", within, err)
	}
	beyond, err := Judge(15, p, 8)
	if err != nil || math.Abs(float64(beyond.Vented-(15-beyond.CanHold))) > 1e-12 || beyond.Share < 1 {
		t.Errorf("%+v %v", beyond, err)
	}
	if v, err := Judge(9, p, 80); err == nil {
		t.Errorf("hot: %+v", v)
	}
}

func TestServingWithoutFigures(t *testing.T) {
	for _, s := range []Serving{{}, {Litres: 1}, {CO2: unit.Grams(math.NaN())}} {
		if n, c := s.Servings(100), s.PerLitre(); n != 0 || (c != 0 && !math.IsNaN(float64(s.CO2))) {
			t.Errorf("%+v: %v servings, %v g/L", s, n, c)
		}
	}
}
