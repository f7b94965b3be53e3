package sources

import (
	"fmt"
	"math"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// The widest range in which the temperature beside a household's cylinder scale can lie; common practice, no source. What is odd for *this*
// cylinder is not judged here but by the forecast, which knows it.
const (
	MinTemp unit.Celsius = -50
	MaxTemp unit.Celsius = 80 // some sensors answer 85 °C at power-on and -127 °C when unplugged
)

// MaxSkew is how far a weighing may seem to come from the future before its clock is called wrong.
const MaxSkew = 10 * time.Minute

// Check reports what makes w no weighing at all, as a *Failure, or nil. received is when this program learned of it; zero: not known.
func Check(w record.Event, received time.Time) error {
	fail := func(read, want string) error {
		return &Failure{Kind: Nonsense, Item: w.Cylinder, Read: read, Want: want}
	}
	switch {
	case w.Kind != record.Weighed:
		return fail(fmt.Sprintf("kind is %.20q", string(w.Kind)), `want "weighed"`)
	case !finite(float64(w.Gross)):
		return fail(fmt.Sprintf("weight is %v", float64(w.Gross)), "want a number")
	case w.Gross < record.MinGross || w.Gross > record.MaxGross:
		return fail(fmt.Sprintf("weight is %.6g kg", w.Gross.Kilograms()),
			fmt.Sprintf("want %.0f to %.0f kg; is the unit right?", record.MinGross.Kilograms(), record.MaxGross.Kilograms()))
	case w.HasTemp && !TempOK(w.Temp):
		return fail(fmt.Sprintf("temperature is %v °C", float64(w.Temp)),
			fmt.Sprintf("want %v to %v °C", float64(MinTemp), float64(MaxTemp)))
	case w.At.IsZero():
		return fail("no time", "want when it was weighed")
	case !TimeOK(w.At):
		return fail("weighed at "+w.At.UTC().Format(time.RFC3339), "want a time "+Times+"; is the clock right?")
	case !received.IsZero() && w.At.Sub(received) > MaxSkew:
		return fail("weighed at "+w.At.UTC().Format(time.RFC3339)+", which is still to come", "is the clock right?")
	case w.Origin != record.Scale && w.Origin != record.Manual:
		return fail(fmt.Sprintf("origin is %.20q", string(w.Origin)), `want "scale" or "manual"`)
	}
	return nil
}

// TempOK reports whether t can be the temperature of a room with a scale in it.
func TempOK(t unit.Celsius) bool { return t >= MinTemp && t <= MaxTemp }

// Times is when a household can have weighed: a clock that was never set says 1970.
const Times = "from 1990 to 2199"

// TimeOK reports whether t can be the time of a weighing.
func TimeOK(t time.Time) bool { y := t.UTC().Year(); return 1990 <= y && y < 2200 }

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
