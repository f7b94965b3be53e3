// Package loss notices gas that goes away and that nobody used.
//
// Two sequential tests look at the same vetted stream, each for its own kind of loss:
//
//	flow     13 to 1700 g/h: what leaves from half hour to half hour, against what this household may draw then (demand)
//	nights   1 to 12.6 g/h: the slope of each quiet night against the household's own past nights
//
// The threshold of each follows from the rate of false alarms asked for. Once a loss is believed it is followed: how fast,
// how much, and whether it has stopped.
package loss

import (
	"math"
	"time"

	"tarebell/forecast/demand"
	"tarebell/forecast/unit"
)

// Options says what is known before the household has shown it.
type Options struct {
	Use     *demand.Model // how the household draws, learned here
	Serving unit.Grams    // gas one serving takes; 0: unknown
	Fill    unit.Grams    // net gas of a full cylinder; 0: unknown
	// QuietFrom and QuietTo bound the household's quiet hours, 0 to 24; equal: not known.
	QuietFrom, QuietTo float64
	// FalseAlarms is the rate of false alarms of each test, per household and year; 0: the default.
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
	Hour   float64    // of the household's week, 0 to 168, from Sunday on
	Quiet  bool       // nobody is there to draw, or the valve is closed
	Ended  bool       // the cylinder is empty
	night  bool       // set by Next
	drawn  float64    // g seen to be drawn so far, set by Next
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
	Use    bool // Stopped: fast, nobody stopped it, and gas is left, so it most likely was use
}

// Watch looks for losses in one cylinder's stream. Use New.
type Watch struct {
	opt       Options
	use       *demand.Model
	flow      flow
	nights    nights
	episode   episode
	logged    logged
	warmth    warmth
	night     window
	threshold float64 // ln of the evidence wanted of flow
	raised    float64 // added to it after a false alarm
	last      Reading
	n         int
}

// DefaultFalseAlarms is the default rate of false alarms of each test, per household and year.
const DefaultFalseAlarms = 0.25

// nightly is the part of the false alarms that nights may raise; flow may raise as many as asked for.
const nightly = 0.24

// stepsPerYear is how many steps of flow a year has.
const stepsPerYear = 365.25 * 86400 / stepSeconds

// New starts a watch that has seen nothing.
func New(o Options) *Watch {
	if o.FalseAlarms <= 0 {
		o.FalseAlarms = DefaultFalseAlarms
	}
	if o.Use == nil {
		o.Use = demand.New()
	}
	w := &Watch{opt: o, use: o.Use, night: nightWithin(o.QuietFrom, o.QuietTo), threshold: math.Log(stepsPerYear / o.FalseAlarms)}
	w.nights.reset(o.FalseAlarms*nightly, w.serving())
	return w
}

// Next takes a reading and reports what it completes, if anything.
func (w *Watch) Next(r Reading) (Found, bool) {
	dt := 0.0
	if w.n > 0 {
		dt = r.At.Sub(w.last.At).Hours()
	}
	w.raised *= decay(dt, 120*24)
	r.night = w.night.covers(r.Hour)
	r.Gross -= unit.Grams(w.warmth.anomaly(r))
	if w.n == 0 || dt > longGap {
		w.restart()
	}
	w.n++
	f, ok := w.judge(r)
	w.last = r
	return f, ok
}

// longGap is the gap, in hours, after which the level is taken afresh: nobody knows what was used in it.
const longGap = 6.0

func (w *Watch) judge(r Reading) (Found, bool) {
	w.nights.losing = w.episode.believed
	w.flow.add(w, r)
	r.drawn = w.flow.drawn
	z, ended := w.nights.add(r)
	switch {
	case w.flow.losing:
		return w.followed(r)
	case w.suspicious(r):
		f := w.flow.found(r.At)
		if w.episode.believed && float64(f.Rate) < w.episode.told+worseBy {
			break
		}
		w.flow.follow()
		return w.begin(f)
	}
	if w.episode.believed {
		if ended {
			return w.episode.night(w, r, z)
		}
		w.episode.pass(r)
		return Found{}, false
	}
	if ended {
		if f, ok := w.nights.test(w, r); ok {
			return w.begin(f)
		}
	}
	return Found{}, false
}

// suspicious reports that the flow has enough evidence for a loss that goes on.
func (w *Watch) suspicious(r Reading) bool {
	if math.Log(w.flow.evidence()) < w.thresholdAt(r.Hour) || !w.flow.going() {
		return false
	}
	f := w.flow.found(r.At)
	return float64(f.Lost) > math.Max(2*w.logged.between(f.Since, r.At), w.evening())
}

// evening is what must be gone before a loss found by flow is told, g: an evening with guests takes it, and it hurts nobody. Of a small cylinder it is a
// share. Ours.
func (w *Watch) evening() float64 {
	const evenings, share = 1.5, 1.0 / 15
	if fill := float64(w.opt.Fill); fill > 0 {
		return math.Min(evenings*demand.Evening, share*fill)
	}
	return evenings * demand.Evening
}

// thresholdAt is the ln of the evidence wanted of flow at hour of the week.
func (w *Watch) thresholdAt(hour float64) float64 {
	bar := w.threshold + w.raised
	if w.use.Unseen(hour) {
		bar += newDay
	}
	return bar
}

// newDay is added to the threshold on a weekday on which the household was never seen: nearly all of a week's use may fall on its weekend. Ours.
const newDay = 4.0

// begin believes in a loss.
func (w *Watch) begin(f Found) (Found, bool) {
	rate, sd := float64(f.Rate), math.Max(float64(f.RateSD), 0.05*float64(f.Rate))
	w.episode = episode{believed: true, since: f.Since, at: w.last.At, lost: float64(f.Lost), lostVar: float64(f.LostSD * f.LostSD), rate: rate, rateSD: sd, told: rate}
	w.episode.sure, w.episode.sureVar = w.episode.lost, w.episode.lostVar
	w.episode.stop = CUSUM{H: stopThreshold}
	return f, true
}

// Believe takes a loss that was found elsewhere, from typed weights.
func (w *Watch) Believe(at time.Time, f Found) {
	w.last.At = at
	w.begin(f)
}

// kindOf calls a loss slow that takes a day or more for a party's worth of gas.
func kindOf(rate float64) Kind {
	if rate < 8 {
		return Slow
	}
	return Abrupt
}

// restart takes the level afresh.
func (w *Watch) restart() {
	w.flow.known = false
	w.nights.drop()
}

// Refilled says that another mass of gas is in the cylinder: a loss that was believed is over, but one that nobody was told of may go on.
func (w *Watch) Refilled() {
	w.n = 0
	believed := w.episode.believed
	w.episode = episode{}
	w.flow.known, w.flow.losing = false, false
	if believed {
		w.nights.forgive()
	}
	w.nights.drop()
	w.nights.days.known = false
}

// Dismiss says that the loss believed was none: the household knows better. What it drew, and what nights showed, is usual, then,
// and for some weeks more proof is asked for.
func (w *Watch) Dismiss() {
	if w.episode.believed && !w.flow.losing {
		w.nights.usual -= w.episode.rate
		w.nights.p += w.episode.rateSD * w.episode.rateSD
	}
	w.wasUse(true)
	w.flow.log.settle(w, true)
	w.raised = math.Min(w.raised+raisedStep, mostRaised)
	w.end()
}

// wasUse counts the loss believed as use: a feast if the household said so, a bout if it stopped by itself, as a valve may do that somebody shut; or as a shift
// of the household's nights.
func (w *Watch) wasUse(said bool) {
	switch {
	case w.flow.losing && w.episode.lost > 0 && said:
		w.use.Hosted(w.episode.lost, w.episode.rate)
	case w.flow.losing && w.episode.lost > 0:
		w.use.Count(w.episode.lost, w.episode.rate, 1)
	case w.episode.believed && !w.flow.losing:
		w.nights.shifted = max(w.nights.shifted, w.episode.rate)
	}
}

// Repaired says that the loss believed has been stopped.
func (w *Watch) Repaired() { w.end() }

func (w *Watch) end() {
	w.episode = episode{}
	w.flow.log.settle(w, false)
	w.flow.forgive()
	w.nights.forgive()
}

// Expectant reports that readings of the next minutes would tell whether a fall just seen goes on.
func (w *Watch) Expectant() bool {
	return !w.episode.believed && w.n > 0 && math.Log(w.flow.evidence()) > w.threshold/3
}

// Believed reports whether gas is thought to be leaving, and how fast.
func (w *Watch) Believed() (losing bool, rate, sd unit.GramsPerHour) {
	o := &w.episode
	if !o.believed {
		return false, 0, 0
	}
	return true, unit.GramsPerHour(o.rate), unit.GramsPerHour(o.rateSD)
}

// raisedStep is added to the thresholds of the likelihood ratios after a false alarm: e⁵, or a hundred and fifty times the
// odds, since this household does not draw as was thought. It fades over four months. Ours.
const raisedStep = 5.0

// mostRaised is where repeated false alarms stop raising the thresholds: a household that draws at night is asked
// once or twice, not every month.
const mostRaised = 12.0

// serving is what one serving takes, g.
func (w *Watch) serving() float64 {
	if w.opt.Serving > 0 {
		return float64(w.opt.Serving)
	}
	return helping
}
