package room

import (
	"math"
	"testing"
)

// TestWorst against the balance by hand: 1 g of CO2 is 0.5434 L at 20 °C (Span & Wagner 1996, 1.840 g/L), so that in 40 m³ with
// 0.5 air changes 100 g/h settle at 420 + 1e6·54.34/40000/0.5 = 3137 ppm, and 500 g at once make 420 + 1e6·271.7/40000 = 7213.
func TestWorst(t *testing.T) {
	r, err := New(40_000, 0.5)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		what string
		loss Loss
		want float64
	}{
		{"for ever", Loss{Rate: 100, Left: 1e9}, 3137},
		{"until it is empty, at once", Loss{Rate: 100, Left: 0}, 420},
		{"an hour of it", Loss{Rate: 100, Left: 100}, 420 + (3137-420)*(1-math.Exp(-0.5))},
		{"all at once", Loss{Gone: 500}, 7213},
		{"over a long time", Loss{Gone: 500, Over: 10}, 420 + 1e6*500/240*0.5434/40_000/0.5},
		{"nothing", Loss{}, 420},
	} {
		if got := float64(r.Worst(c.loss)); math.Abs(got-c.want) > 0.002*c.want {
			t.Errorf("%s: %.0f ppm, want %.0f", c.what, got, c.want)
		}
	}
	r.AirChanges = 0
	if got := r.Worst(Loss{}); got != r.Outdoor {
		t.Errorf("nothing, in a closed room: %.0f ppm", float64(got))
	}
}

// The room that stands for an unknown one is a real one, and smaller and closer than a described kitchen: it errs to the safe side.
func TestUnknownRoom(t *testing.T) {
	u := Unknown()
	if err := u.Check(); err != nil {
		t.Fatal(err)
	}
	kitchen, _ := New(38_000, 0.5)
	l := Loss{Gone: 50, Over: 1. / 24, Rate: 60, Left: 5000}
	if u.Worst(l) <= kitchen.Worst(l) {
		t.Errorf("%.0f ppm in the unknown room, %.0f in a kitchen", u.Worst(l), kitchen.Worst(l))
	}
	// By hand: 8 m² of 2.5 m at 0.35 changes reach 5,000 ppm with (5000-420)·1e-6·20,000 L·0.35/h / 0.5434 L/g = 59 g/h.
	if c := u.Worst(Loss{Rate: 45, Left: 1e6}); c >= LongTerm {
		t.Errorf("45 g an hour make %.0f ppm", c)
	}
	if c := u.Worst(Loss{Rate: 75, Left: 1e6}); c < LongTerm {
		t.Errorf("75 g an hour make only %.0f ppm", c)
	}
}
