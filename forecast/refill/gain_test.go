package refill

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// normally is a run-out around mid days.
func normally(mid, sd float64) runout.Distribution {
	draws := make([]unit.Days, 2000)
	for i := range draws {
		draws[i] = unit.Days(mid + sd*distuv.UnitNormal.Quantile((float64(i)+0.5)/2000))
	}
	return runout.FromDraws(draws)
}

// With a certain lead time and people who act at once the last good day is z·σ before the middle. What takes s of σ away leaves
// √(σ²-s²): the reminder is put off by z·(σ-√(σ²-s²)) on average, give or take s, of which the part above 0 counts, by hand
// within the day that the looks are apart.
func TestGain(t *testing.T) {
	z := distuv.UnitNormal.Quantile(0.95)
	p := Policy{Risk: 0.05, Lead: fixed(3)}
	for _, r := range []struct{ sd, known float64 }{{8, 6}, {8, 4}, {20, 19}, {3, 1}} {
		got, err := p.Gain(monday, normally(60, r.sd), unit.Days(r.known))
		if err != nil {
			t.Fatal(err)
		}
		off := z * (r.sd - math.Sqrt(r.sd*r.sd-r.known*r.known))
		u := off / r.known
		want := off*distuv.UnitNormal.CDF(u) + r.known*distuv.UnitNormal.Prob(u)
		if math.Abs(float64(got)-want) > 1 {
			t.Errorf("sd %g, %g of it known: %.2f days, want %.2f", r.sd, r.known, got, want)
		}
	}
}

// Nothing known is worth nothing, more is worth more, and all of it no more than the whole uncertainty.
func TestGainRises(t *testing.T) {
	p := Policy{Risk: 0.05, Lead: Learn(3, nil, nil), Delay: LearnDelay(nil, monday)}
	last := unit.Days(0)
	for known := range 9 {
		got, err := p.Gain(monday, normally(60, 8), unit.Days(known))
		if err != nil || got < last || known == 0 && got != 0 {
			t.Errorf("%d days known: %v after %v, %v", known, got, last, err)
		}
		last = got
	}
	if most, _ := p.Gain(monday, normally(60, 8), 1000); most > 3*8 || most < last {
		t.Errorf("all known: %v days", most)
	}
	if never, err := p.Gain(monday, certain(unit.Days(math.Inf(1))), 5); never != 0 || err != nil {
		t.Errorf("never empty: %v, %v", never, err)
	}
}
