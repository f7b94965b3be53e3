package calibration

import (
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

var classes = map[string]Class{"I": ClassI, "II": ClassII, "III": ClassIII, "IIII": ClassIIII}

// OIML R 76-1 Table 6, read in a course hand-out that reproduces it, with the doubling in service of the UK
// regulations of 1995: inside each band, at its end, and just beyond it.
func TestMPETable(t *testing.T) {
	for _, r := range reftest.Rows(t, "oiml_r76_mpe") {
		class, e := classes[r["class"]], unit.Grams(5)
		from, to := r.Num(t, "load_from_e_exclusive"), r.Num(t, "load_to_e_inclusive")
		if math.IsNaN(to) {
			to = 2 * from
		}
		for _, n := range []float64{from + 0.5, (from + to) / 2, to} {
			initial, err := MPE(class, e, e*unit.Grams(n))
			if err != nil {
				t.Fatal(err)
			}
			service, err := InService(class, e, e*unit.Grams(n))
			if err != nil {
				t.Fatal(err)
			}
			name := "class " + r["class"] + " at " + strconv.FormatFloat(n, 'f', 1, 64) + " e"
			reftest.Near(t, name, float64(initial/e), r.Num(t, "mpe_initial_verification_e"), 1e-12)
			reftest.Near(t, name+" in service", float64(service/e), r.Num(t, "mpe_in_service_e"), 1e-12)
		}
	}
}

// OIML R 76-1 Table 3: no more intervals than the class has.
func TestClassEnds(t *testing.T) {
	for _, r := range reftest.Rows(t, "oiml_r76_classes") {
		most := r.Num(t, "n_max")
		if math.IsNaN(most) || r["class"] == "II" && most < 100000 {
			continue
		}
		e := unit.Grams(1)
		if strings.HasPrefix(r["e_range"], "5 g") {
			e = 5
		}
		if _, err := MPE(classes[r["class"]], e, e*unit.Grams(most)); err != nil {
			t.Errorf("class %s with %g intervals: %v", r["class"], most, err)
		}
		if m, err := MPE(classes[r["class"]], e, e*unit.Grams(most+1)); r["class"] != "I" && err == nil {
			t.Errorf("class %s with %g intervals: %v", r["class"], most+1, m)
		}
	}
}

// Class III errors in grams, computed elsewhere from the same tables.
func TestMPEExamples(t *testing.T) {
	for _, r := range reftest.Rows(t, "weighing_mpe_examples_computed") {
		e, load := unit.Grams(r.Num(t, "e_g")), unit.Kilograms(r.Num(t, "load_kg"))
		name := r["load_kg"] + " kg, e = " + r["e_g"] + " g"
		initial, err := MPE(classes[r["class"]], e, load)
		if err != nil {
			t.Fatal(err)
		}
		service, err := InService(classes[r["class"]], e, load)
		if err != nil {
			t.Fatal(err)
		}
		reftest.Near(t, name, float64(initial), r.Num(t, "mpe_initial_g"), 1e-12)
		reftest.Near(t, name+" in service", float64(service), r.Num(t, "mpe_in_service_g"), 1e-12)
	}
}

func TestMPEMistakes(t *testing.T) {
	for _, in := range [][2]unit.Grams{{0, 1}, {-1, 1}, {1, -1}, {unit.Grams(math.NaN()), 1}, {1, unit.Grams(math.NaN())}, {1, unit.Grams(math.Inf(1))}} {
		if m, err := MPE(ClassIII, in[0], in[1]); err == nil {
			t.Errorf("%v: %v", in, m)
		}
	}
}

func TestRecheck(t *testing.T) {
	last := time.Date(2027, 1, 31, 9, 0, 0, 0, time.UTC)
	fine := Since{Last: last, HasTemp: true, Coldest: -10, Hottest: 40, Receipt: 10000, Scale: 9910, DisagreementSD: 30}
	rows := []struct {
		rule   string
		change func(*Since)
		now    time.Time
		want   []Reason
	}{
		{"nothing", func(*Since) {}, last.AddDate(0, 5, 0), nil},
		{"half a year", func(*Since) {}, last.AddDate(0, 6, 0), []Reason{HalfYear}},
		{"never checked", func(s *Since) { s.Last = time.Time{} }, last, []Reason{HalfYear}},
		{"frost", func(s *Since) { s.Coldest = -10.5 }, last, []Reason{TooCold}},
		{"heat", func(s *Since) { s.Hottest = 41 }, last, []Reason{TooHot}},
		{"no thermometer", func(s *Since) { s.Hottest, s.HasTemp = 41, false }, last, nil},
		{"fill", func(s *Since) { s.Scale = 9909 }, last, []Reason{FillDisagrees}},
		{"no receipt", func(s *Since) { s.Receipt = 0 }, last, nil},
	}
	for _, r := range rows {
		s := fine
		r.change(&s)
		got := Recheck(s, r.now)
		if len(got) != len(r.want) || len(got) > 0 && got[0] != r.want[0] {
			t.Errorf("%s: %v, want %v", r.rule, got, r.want)
		}
	}
}
