package forecast

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// scribe types weights of a cylinder of 24 kg and 10 kg of gas.
type scribe struct {
	c  *Cylinder
	at time.Time
}

func newScribe(net unit.Grams) *scribe {
	s := &scribe{New(Options{Tare: 23000, Fittings: 1000, NetFill: net, Seed: 1}), time.Date(2027, 1, 4, 19, 0, 0, 0, time.UTC)}
	s.c.Apply(record.Event{At: s.at.Add(-time.Hour), Kind: record.Filled, Net: net})
	return s
}

// types a net weight after some days and returns what was found.
func (s *scribe) types(days float64, net unit.Grams) (kinds []FindingKind) {
	s.at = s.at.Add(time.Duration(days * 24 * float64(time.Hour)))
	for _, f := range s.c.Apply(record.Event{Kind: record.Weighed, At: s.at, Gross: 24000 + net, Origin: record.Manual}) {
		kinds = append(kinds, f.Kind)
	}
	return kinds
}

func (s *scribe) wants(t *testing.T, days float64, net unit.Grams, want ...FindingKind) {
	t.Helper()
	if got := s.types(days, net); len(got) != len(want) || len(got) > 0 && got[0] != want[0] {
		t.Errorf("%.0f g: found %v, want %v", float64(net), got, want)
	}
}

func (s *scribe) holds(t *testing.T, gas float64) {
	t.Helper()
	g := s.c.Outlook(s.at).Gas
	t.Logf("%.0f ± %.0f g of gas", g.Mean, g.SD)
	if math.Abs(g.Mean-gas) > 3*g.SD || g.SD > 400 {
		t.Errorf("%.0f ± %.0f g of gas, want %.0f", g.Mean, g.SD, gas)
	}
}

// TestHeavyUseTyped: whoever draws 250 g a day is believed, be it that nobody said so before.
func TestHeavyUseTyped(t *testing.T) {
	s := newScribe(22680)
	for i, net := range []unit.Grams{21890, 16340, 13970, 11700, 8510} {
		s.wants(t, []float64{0.2, 22, 9, 9, 13}[i], net)
		s.holds(t, float64(net))
	}
	if u := s.c.Outlook(s.at).Use.Mean; u < 200 || u > 320 {
		t.Errorf("%.0f g a day, want about 250", u)
	}
}

// TestSlips: what was typed wrongly is asked about, and the next weight stands.
func TestSlips(t *testing.T) {
	s := newScribe(10000)
	for i := range 5 {
		s.wants(t, 6, 9800-unit.Grams(i)*200)
	}
	s.wants(t, 6, 53000, WrongUnit)    // 77.0 kg are 34.9 kg: pounds said to be kilograms
	s.wants(t, 6, -9000, WrongUnit)    // 15.0 kg are 33.1 kg said to be pounds
	s.wants(t, 1, 300000, Implausible) // a digit too many
	s.wants(t, 1, -20700, Implausible) // a point in the wrong place
	s.wants(t, 6, 8100)
	s.holds(t, 8100)
	s.wants(t, 0.1, 3100, Implausible) // 3 for 8
	s.wants(t, 0.1, 8100)
	s.holds(t, 8100)
	if u := s.c.Outlook(s.at).Use.Mean; u < 25 || u > 50 {
		t.Errorf("%.0f g a day, want about 35", u)
	}
}

// TestTypedFall: somebody types 2 kg less than days ago, and again: that gas is gone, but the household need not draw more for it.
func TestTypedFall(t *testing.T) {
	s := newScribe(10000)
	r := rand.New(rand.NewPCG(8, 9))
	gas := 9800.0
	typed := func() unit.Grams { return unit.Grams(math.Round((gas+60*r.NormFloat64())/100) * 100) }
	for range 16 {
		s.types(4, typed())
		gas -= 160
	}
	before := s.c.Outlook(s.at)
	gas -= 2000
	s.wants(t, 4, typed(), Implausible)
	s.wants(t, 0.01, typed())
	s.holds(t, gas)
	if now := s.c.Outlook(s.at); now.Use.Mean > 1.25*before.Use.Mean {
		t.Errorf("%.0f g a day became %.0f", before.Use.Mean, now.Use.Mean)
	}
}

// TestTypedFill: a weight of a full cylinder is a fill; one of a half-full one is asked about, and believed when it is typed again.
func TestTypedFill(t *testing.T) {
	for _, c := range []struct {
		name string
		to   unit.Grams
		want []FindingKind
	}{{"full", 9900, []FindingKind{FillSeen}}, {"half", 5500, []FindingKind{Implausible, FillSeen}}} {
		t.Run(c.name, func(t *testing.T) {
			s := newScribe(10000)
			for i := range 20 {
				s.wants(t, 7, 9800-unit.Grams(i)*450)
			}
			for i, k := range c.want {
				s.wants(t, 1, c.to-unit.Grams(i)*100, k)
			}
			s.wants(t, 2, c.to-200)
			s.holds(t, float64(c.to)-200)
		})
	}
}

// TestSmallCylinder: 425 g of gas, weighed on a kitchen scale, are known to some grams.
func TestSmallCylinder(t *testing.T) {
	c := New(Options{Tare: 690, Fittings: 40, NetFill: 425, Seed: 1})
	at := time.Date(2027, 1, 4, 19, 0, 0, 0, time.UTC)
	c.Apply(record.Event{At: at.Add(-time.Hour), Kind: record.Filled, Net: 425})
	for i := range 8 {
		c.Apply(record.Event{Kind: record.Weighed, At: at.AddDate(0, 0, 5*i), Gross: unit.Grams(730 + 420 - 30*i), Origin: record.Manual})
	}
	if g := c.Outlook(at.AddDate(0, 0, 35)).Gas; math.Abs(g.Mean-210) > 12 || g.SD > 12 {
		t.Errorf("%.0f ± %.0f g of gas, want 210", g.Mean, g.SD)
	}
}
