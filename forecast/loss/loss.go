// Package loss notices gas that goes away and that nobody used.
//
// Three tests look at the same vetted stream, each for its own kind of loss:
//
//	burst    minutes to hours: more gone than a party takes, and still going
//	hours    8 to 100 g/h: a bank of likelihood ratios, hour by hour, that a party cannot drive far
//	nights   1 to 12 g/h: the slope of each quiet night against the household's own past nights
//
// The last two are sequential tests: hours in the sense of Page (1954), with bounded likelihood ratios; nights by a
// generalised likelihood ratio whose threshold follows from the rate of false alarms asked for. Once a loss is believed
// it is followed: how fast, how much, and whether it has stopped.
package loss

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Options says what ordinary use looks like before the household has shown it.
type Options struct {
	Serving unit.Grams       // gas one serving takes; 0: unknown
	Use     unit.GramsPerDay // first guess of the use; 0: unknown
	// QuietFrom and QuietTo bound the household's quiet hours, 0 to 24; equal: not known.
	QuietFrom, QuietTo float64
	// FalseAlarms is the rate of false alarms of the test on nights, per household and year; 0: the default.
	FalseAlarms float64
}

// Reading is one vetted reading.
type Reading struct {
	At     time.Time
	Gross  unit.Grams // of the cylinder alone
	SD     unit.Grams
	Grain  unit.Grams // step of the scale; 0 unknown
	Cell   float64    // temperature of the load cell, °C
	Coef   float64    // g/°C, how the reading follows it; 0 unknown
	StepSD unit.Grams // a step of this uncertainty was taken out just before
	Hour   float64    // of the household's day, 0 to 24
	Day    int        // a number that grows by one with each of the household's days
	Free   bool       // Saturday or Sunday
	Quiet  bool       // nobody is there to draw, or the valve is closed
	part   int        // of the day, set by Next
}

// Kind is what was found.
type Kind int

// The kinds.
const (
	Abrupt Kind = iota
	Slow
	Worse
	Stopped
)

// Found is a loss that begins to be believed, has grown much worse, or has ended.
type Found struct {
	Kind   Kind
	Since  time.Time
	Lost   unit.Grams
	LostSD unit.Grams
	Rate   unit.GramsPerHour
	RateSD unit.GramsPerHour
}

// Watch looks for losses in one cylinder's stream. Use New.
type Watch struct {
	opt     Options
	profile profile
	burst   burst
	hours   hours
	nights  nights
	open    open
	logged  logged
	night   span
	wary    float64 // added to the thresholds after a false alarm
	last    Reading
	n       int
}

// New starts a watch that has seen nothing.
func New(o Options) *Watch {
	w := &Watch{opt: o, night: nightWithin(o.QuietFrom, o.QuietTo)}
	w.profile.reset(float64(o.Use))
	w.hours.reset()
	w.nights.reset(o.FalseAlarms)
	return w
}

// Next takes a reading and reports what it completes, if anything.
func (w *Watch) Next(r Reading) (Found, bool) {
	dt := 0.0
	if w.n > 0 {
		dt = r.At.Sub(w.last.At).Hours()
	}
	w.wary *= decay(dt, 60*24)
	r.part = w.part(r.Hour)
	r.Gross -= unit.Grams(w.profile.warmth(r))
	if w.n == 0 || dt > longGap {
		w.restart(r)
	}
	w.n++
	f, ok := w.judge(r, dt)
	w.last = r
	return f, ok
}

// longGap is the gap, in hours, after which the level is taken afresh: nobody knows what was used in it.
const longGap = 6.0

func (w *Watch) judge(r Reading, dt float64) (Found, bool) {
	drift := w.profile.drop(r.Hour, dt)
	w.profile.add(r, w.open.believed)
	w.burst.add(r)
	w.nights.losing = w.open.believed
	z, night := w.nights.add(r)
	w.hours.step(w, r, dt, drift)
	if w.open.believed {
		f, ok := w.open.follow(w, r, dt, drift, z, night)
		if !ok && w.open.slow {
			return w.worsened(r)
		}
		return f, ok
	}
	if f, ok := w.burst.test(w); ok {
		return w.begin(f)
	}
	if f, ok := w.hours.test(w, r); ok {
		return w.begin(f)
	}
	if night {
		if f, ok := w.nights.test(w, r); ok {
			return w.begin(f)
		}
	}
	return Found{}, false
}

// worsened looks whether a slow loss, which is followed by its nights, has become a fast one.
func (w *Watch) worsened(r Reading) (Found, bool) {
	f, ok := w.burst.test(w)
	if !ok {
		f, ok = w.hours.test(w, r)
	}
	if !ok || float64(f.Rate) < worse*w.open.told || float64(f.Rate) < w.open.told+leastWorse {
		return Found{}, false
	}
	return w.begin(f)
}

// restart takes the level afresh.
func (w *Watch) restart(r Reading) {
	w.burst.n = 0
	w.hours.restart(float64(r.Gross), float64(r.SD))
	w.nights.drop()
}

// Refilled says that another mass of gas is in the cylinder: a loss that was believed is over.
func (w *Watch) Refilled() {
	w.n = 0
	w.open = open{}
	w.profile.interrupt()
	w.nights.forgive()
	w.nights.days.known = false
}

// Dismiss says that the loss believed was none: the household knows better. What nights showed is usual, then, and for
// some weeks more proof is asked for.
func (w *Watch) Dismiss() {
	if w.open.slow {
		w.nights.usual -= w.open.rate
		w.nights.p += w.open.rateSD * w.open.rateSD
	}
	w.wary = math.Min(w.wary+waryStep, mostWary)
	w.end()
}

// Repaired says that the loss believed has been stopped.
func (w *Watch) Repaired() { w.end() }

func (w *Watch) end() {
	w.open = open{}
	w.n = 0
	w.nights.forgive()
}

// Curious reports that a few more readings at once would tell whether the last one means a loss.
func (w *Watch) Curious() bool { return !w.open.believed && w.burst.curious(w) }

// Expectant reports that readings of the next minutes would tell whether a fall just seen goes on.
func (w *Watch) Expectant() bool { return !w.open.believed && w.burst.expectant(w) }

// Believed reports whether gas is thought to be leaving, and how fast.
func (w *Watch) Believed() (losing bool, rate, sd unit.GramsPerHour) {
	o := &w.open
	if !o.believed {
		return false, 0, 0
	}
	return true, unit.GramsPerHour(o.rate), unit.GramsPerHour(o.rateSD)
}

// waryStep is added to the thresholds of the likelihood ratios after a false alarm: e³, or twenty times the
// odds. It fades over two months.
const waryStep = 3.0

// mostWary is where repeated false alarms stop raising the thresholds: a household that draws at night is asked
// once or twice, not every month.
const mostWary = 9.0
