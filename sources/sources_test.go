package sources_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/sources"
	"tarebell/sources/sourcetest"
)

func good() sources.Weighing {
	at := time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC)
	return sources.Weighing{Item: "main", Gross: 24000, Temp: 20, HasTemp: true, At: at, Received: at, Origin: sources.Scale, Key: "k"}
}

func TestCheck(t *testing.T) {
	if err := sources.Check(good()); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		spoil func(*sources.Weighing)
		want  string // "": accepted
	}{
		"not a number":         {func(w *sources.Weighing) { w.Gross = unit.Grams(math.NaN()) }, "main: weight is NaN; want a number"},
		"infinite":             {func(w *sources.Weighing) { w.Gross = unit.Grams(math.Inf(-1)) }, "main: weight is -Inf; want a number"},
		"a drifted zero":       {func(w *sources.Weighing) { w.Gross = -40 }, ""},
		"just too light":       {func(w *sources.Weighing) { w.Gross = -20001 }, "main: weight is -20.001 kg; want -20 to 1000 kg; is the unit right?"},
		"just heavy enough":    {func(w *sources.Weighing) { w.Gross = 1e6 }, ""},
		"grams read as kg":     {func(w *sources.Weighing) { w.Gross = 24e6 }, "main: weight is 24000 kg; want -20 to 1000 kg; is the unit right?"},
		"net below zero":       {func(w *sources.Weighing) { w.Net, w.Gross = true, -1 }, "main: net weight is -0.001 kg; want 0 or more"},
		"negative uncertainty": {func(w *sources.Weighing) { w.SD = -1 }, "main: uncertainty is -1 g; want 0 or more"},
		"unplugged sensor":     {func(w *sources.Weighing) { w.Temp = -127 }, "main: temperature is -127 °C; want -50 to 80 °C"},
		"no temperature":       {func(w *sources.Weighing) { w.Temp, w.HasTemp = -127, false }, ""},
		"no time":              {func(w *sources.Weighing) { w.At = time.Time{} }, "main: no time; want when it was weighed"},
		"a clock never set":    {func(w *sources.Weighing) { w.At = time.Unix(0, 0) }, "main: weighed at 1970-01-01T00:00:00Z; want a time from 1990 to 2199; is the clock right?"},
		"some skew":            {func(w *sources.Weighing) { w.At = w.At.Add(10 * time.Minute) }, ""},
		"the future":           {func(w *sources.Weighing) { w.At = w.At.Add(11 * time.Minute) }, "main: weighed at 2027-03-01T08:11:00Z, which is still to come; is the clock right?"},
		"no origin":            {func(w *sources.Weighing) { w.Origin = "" }, `main: origin is ""; want "scale" or "manual"`},
		"no key":               {func(w *sources.Weighing) { w.Key = "" }, "main: no key; want one that names this weighing alone"},
	} {
		w := good()
		c.spoil(&w)
		err := sources.Check(w)
		if got := errText(err); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		if f, ok := err.(*sources.Failure); ok {
			sourcetest.Explained(t, f)
		}
	}
}

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func TestKeysTellWeighingsApart(t *testing.T) {
	at := time.Date(2027, 3, 1, 8, 0, 0, 0, time.FixedZone("", 3600))
	a := sources.Key(sources.Scale, "main", at)
	for name, b := range map[string]string{
		"origin": sources.Key(sources.Manual, "main", at),
		"item":   sources.Key(sources.Scale, "spare", at),
		"time":   sources.Key(sources.Scale, "main", at.Add(time.Millisecond)),
	} {
		if a == b {
			t.Errorf("%s does not matter: %q", name, a)
		}
	}
	if b := sources.Key(sources.Scale, "main", at.UTC()); a != b || !strings.HasSuffix(a, "2027-03-01T07:00:00.000Z") {
		t.Errorf("the zone matters: %q, %q", a, b)
	}
}

func TestMassUnit(t *testing.T) {
	// NIST SP 811 appendix B: 1 lb = 453.59237 g, 1 oz = 28.349523125 g, exactly.
	for name, want := range map[string]unit.Grams{"g": 1, "KG": 1000, "lb": 453.59237, "lbs": 453.59237, "oz": 28.349523125, "st": 0, "": 0} {
		if got, ok := sources.MassUnit(name); got != want || ok != (want != 0) {
			t.Errorf("%q: %v %v", name, got, ok)
		}
	}
}

func TestMassIsWhatTheDecimalsSay(t *testing.T) {
	for x, want := range map[float64]unit.Grams{1.001: 1001, 24.845: 24845, -0.04: -40, 16.229: 16229, 1e-9: 1e-6} {
		if got := sources.Mass(x, 1000); got != want {
			t.Errorf("%v kg is %v g", x, float64(got))
		}
	}
	if got := sources.Mass(1, 453.59237); got != 453.59237 {
		t.Errorf("1 lb is %v g", float64(got))
	}
}
