// Package backtest looks back over a household's own history: how good were the forecasts?
//
// A cylinder is mostly refilled before it runs out, so the run-outs that were forecast never happened. What did happen is
// that each fill fell to the level at which it was refilled. So that level is what is asked for, of the forecast as it
// stood on the way there, with nothing known of what came later: a first pass through the engine finds how far each fill
// went and when, a second pass asks. Where the household said that the cylinder ran dry, the run-out itself is judged.
//
// What this cannot see: the level is the filter's own, so that an empty weight that is wrong throughout goes unnoticed, and
// the doubt about it, which a forecast has to contain, makes the last forecasts of a fill look wider than need be.
package backtest

import (
	"iter"
	"math"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Stages are the parts of the gas still to go at which a fill's forecasts are judged.
var Stages = []float64{0.80, 0.60, 0.40, 0.25, 0.15, 0.08}

const (
	// most is how far ahead a forecast counts; later is as late as this.
	most unit.Days = 1500
	// soonest is the least time left at which asking makes sense.
	soonest unit.Days = 0.2
	// leastUsed and leastDays are what a fill must have come to for its forecasts to be judged.
	leastUsed           = 0.15 // of the nominal fill
	leastDays unit.Days = 14
	// settled is how long after a fill its mean use begins to mean something.
	settled unit.Days = 0.5
)

// Forecast is what was said at one moment, and what came of it.
type Forecast struct {
	Stage float64 // part of the gas still to go
	At    time.Time
	Left  unit.Days    // until the level was reached
	Said  [7]unit.Days // quantiles at runout.Probabilities, none beyond 1500 days
	PIT   float64      // probability that was given to the level being reached by then
	Maker unit.Days    // gas left over the mean use since the fill; NaN: hardly anything was used yet
}

// in reports whether it happened inside the quantiles i to j.
func (f Forecast) in(i, j int) bool { return f.Said[i] <= f.Left && f.Left <= f.Said[j] }

// In80 and In90 report whether it happened inside the span given as four out of five and as nine out of ten.
func (f Forecast) In80() bool { return f.in(1, 5) }
func (f Forecast) In90() bool { return f.in(0, 6) }

// Middle is the middle date that was said, in days.
func (f Forecast) Middle() unit.Days { return f.Said[3] }

// Loss is the quantile loss relative to the time left.
func (f Forecast) Loss() float64 { return float64(runout.QuantileLoss(f.Said, f.Left) / f.Left) }

// MakerLoss is the same for the maker's arithmetic, a forecast that knows no span.
func (f Forecast) MakerLoss() float64 {
	var q [7]unit.Days
	for i := range q {
		q[i] = min(f.Maker, most)
	}
	return float64(runout.QuantileLoss(q, f.Left) / f.Left)
}

// Fill is one filling that was judged.
type Fill struct {
	Cylinder     string
	From, Until  time.Time  // first weighing, and when the gas had fallen to Level
	Start, Level unit.Grams // net
	RanDry       bool       // said by the household; Level is then the gas that cannot be used
	Forecasts    []Forecast
}

// Used is how much gas went on the way.
func (f *Fill) Used() unit.Grams { return f.Start - f.Level }

// Result is the whole history.
type Result struct {
	Fills []Fill // in order of time
	Short int    // fills of which too little is gone to be judged
}

// Run looks back over a household's history, in order of time, which is gone through twice.
func Run(o household.Options, history iter.Seq2[record.Event, error]) (Result, error) {
	w := newWatcher(o)
	for e, err := range history {
		if err != nil {
			return Result{}, err
		}
		w.feed(e)
	}
	r, asks := w.result()
	a := &asker{engine: household.New(o), fills: r.Fills, asks: asks}
	for e, err := range history {
		if err != nil {
			return Result{}, err
		}
		a.before(e.At)
		a.engine.Apply(e)
	}
	a.before(time.Time{})
	return r, nil
}

// ask is one question: what does the forecast say at At of the level of a fill?
type ask struct {
	fill  int
	stage float64
	at    time.Time
}

// asker is the second pass.
type asker struct {
	engine *household.Engine
	fills  []Fill
	asks   []ask // by time
}

// before asks what was to be asked before t; zero: all that is left.
func (a *asker) before(t time.Time) {
	for len(a.asks) > 0 && (t.IsZero() || a.asks[0].at.Before(t)) {
		a.put(a.asks[0])
		a.asks = a.asks[1:]
	}
}

func (a *asker) put(q ask) {
	f := &a.fills[q.fill]
	left := unit.Between(q.at, f.Until)
	d := a.engine.Passage(f.Cylinder, q.at, f.Level)
	l, ok := a.engine.Level(f.Cylinder, q.at)
	if !d.Known() || !ok || left < soonest {
		return
	}
	used, since := f.Start-unit.Grams(l.Gas.Mean), unit.Between(f.From, q.at)
	maker := unit.Days(math.NaN())
	if used > 0 && since >= settled {
		maker = max(0, unit.Days(float64(unit.Grams(l.Gas.Mean)-f.Level)/float64(used))*since)
	}
	f.Forecasts = append(f.Forecasts, Forecast{Stage: q.stage, At: q.at, Left: left, Said: d.Quantiles(most), PIT: d.PIT(left), Maker: maker})
}
