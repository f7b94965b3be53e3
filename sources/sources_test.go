package sources_test

import (
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
	"tarebell/sources/sourcetest"
)

func good() record.Event {
	at := time.Date(2027, 3, 1, 8, 0, 0, 0, time.UTC)
	return record.Event{Kind: record.Weighed, Cylinder: "main", Gross: 24000, Temp: 20, HasTemp: true, At: at, Origin: record.Scale}
}

func TestCheck(t *testing.T) {
	if err := check(good()); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		spoil func(*record.Event)
		want  string // "": accepted
	}{
		"not a number":      {func(w *record.Event) { w.Gross = unit.Grams(math.NaN()) }, "main: weight is NaN; want a number"},
		"infinite":          {func(w *record.Event) { w.Gross = unit.Grams(math.Inf(-1)) }, "main: weight is -Inf; want a number"},
		"a drifted zero":    {func(w *record.Event) { w.Gross = -40 }, ""},
		"just too light":    {func(w *record.Event) { w.Gross = -20001 }, "main: weight is -20.001 kg; want -20 to 1000 kg; is the unit right?"},
		"just heavy enough": {func(w *record.Event) { w.Gross = 1e6 }, ""},
		"grams read as kg":  {func(w *record.Event) { w.Gross = 24e6 }, "main: weight is 24000 kg; want -20 to 1000 kg; is the unit right?"},
		"no weighing":       {func(w *record.Event) { w.Kind = record.Made }, `main: kind is "made"; want "weighed"`},
		"unplugged sensor":  {func(w *record.Event) { w.Temp = -127 }, "main: temperature is -127 °C; want -50 to 80 °C"},
		"no temperature":    {func(w *record.Event) { w.Temp, w.HasTemp = -127, false }, ""},
		"no time":           {func(w *record.Event) { w.At = time.Time{} }, "main: no time; want when it was weighed"},
		"a clock never set": {func(w *record.Event) { w.At = time.Unix(0, 0) }, "main: weighed at 1970-01-01T00:00:00Z; want a time from 1990 to 2199; is the clock right?"},
		"some skew":         {func(w *record.Event) { w.At = w.At.Add(10 * time.Minute) }, ""},
		"the future":        {func(w *record.Event) { w.At = w.At.Add(11 * time.Minute) }, "main: weighed at 2027-03-01T08:11:00Z, which is still to come; is the clock right?"},
		"no origin":         {func(w *record.Event) { w.Origin = "" }, `main: origin is ""; want "scale" or "manual"`},
	} {
		w := good()
		c.spoil(&w)
		err := check(w)
		if got := errText(err); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
		if f, ok := err.(*sources.Failure); ok {
			sourcetest.Explained(t, f)
		}
	}
}

// check checks a weighing that came at the time of the good one.
func check(w record.Event) error { return sources.Check(w, good().At) }

func errText(err error) string {
	if err == nil {
		return ""
	}
	return err.Error()
}

func TestFailureHasItsCause(t *testing.T) {
	if f := error(&sources.Failure{Kind: sources.Unreachable, Read: "no answer", Err: io.EOF}); !errors.Is(f, io.EOF) || f.Error() != "no answer" {
		t.Error(f)
	}
}

func TestKeysTellWeighingsApart(t *testing.T) {
	at := time.Date(2027, 3, 1, 8, 0, 0, 0, time.FixedZone("", 3600))
	a := sources.Key(record.Event{Origin: record.Scale, Cylinder: "main", At: at})
	for name, b := range map[string]string{
		"origin": sources.Key(record.Event{Origin: record.Manual, Cylinder: "main", At: at}),
		"item":   sources.Key(record.Event{Origin: record.Scale, Cylinder: "spare", At: at}),
		"time":   sources.Key(record.Event{Origin: record.Scale, Cylinder: "main", At: at.Add(time.Millisecond)}),
	} {
		if a == b {
			t.Errorf("%s does not matter: %q", name, a)
		}
	}
	if b := sources.Key(record.Event{Origin: record.Scale, Cylinder: "main", At: at.UTC()}); a != b || !strings.HasSuffix(a, "2027-03-01T07:00:00.000Z") {
		t.Errorf("the zone matters: %q, %q", a, b)
	}
}
