// Package simulated is an invented household with known truth: people who draw servings from a cylinder, a
// room whose temperature comes and goes, a scale with its faults, leaks and mishaps. It serves the demo; the
// laboratory has households of its own. Nothing in it is measured; all laws are written down below, and none
// is taken from a simulator used elsewhere.
//
// A House advances in time as it is asked; time never goes back. The same Options give the same house:
// demand, scale zero and random mishaps come from streams of their own, and the noise of a reading depends
// on the seed and its time alone. So neither polling more often nor refilling changes what people want.
//
// # Demand
//
// On local day d person p wants N ~ Poisson(λ) servings with
//
//	λ(p,d) = (U/m̄)·a_p·w_p(weekday)·W(weekday)·S(d)·exp(X_d − σ²/2)·present(p,d)
//
// U mean use in g/day, m̄ mean serving in g, a_p share of the person (Gamma(3), summing to 1), w_p own
// weekly habit (lognormal, sd 0.2, mean 1 over the week), W the week, of which Friday to Sunday take 5/6, S the season
// exp(a·cos 2π(day−200)/365.25) scaled to mean 1 over the year (summer more), X a level that wanders:
// Ornstein-Uhlenbeck, sd σ, time constant 60 days. People are away on trips of 2+Geometric days, alone or all together. A serving takes Gamma(6) grams
// with the person's own mean (lognormal about m̄, sd 0.15), at an hour drawn from a morning (7.5 ± 0.8 h)
// or an evening (19 ± 2 h) habit. On top of U come guests at weekends (1+Poisson(1.5) of them, Poisson(1.6)
// servings each, 15 to 23 h) and a weekly dinner (Poisson(μ), 19 to 22 h).
// A serving is drawn only if the valve is open and the gas above the heel.
//
// # Losses
//
// A leak or a valve left open takes its rate, constant in time, until it is stopped or the cylinder is
// empty. The main valve stops both.
//
// # Scale and room
//
// See Scale. The room is at 20 + 2.5·cos(season) + 1.2·sin(2π(h−9)/24) °C plus a daily disturbance
// N(0, 1), interpolated.
package simulated

import (
	"cmp"
	"math/rand/v2"
	"sync"
	"time"

	"tarebell/forecast/unit"
)

// Options describes a house. Zero fields take the defaults named.
type Options struct {
	Seed  uint64
	Start time.Time // its location is the household's zone; zero: 2027-01-04 06:00 UTC

	Tare     unit.Grams // 14.3 kg
	Fittings unit.Grams // 1.1 kg
	NetFill  unit.Grams // gas at Start; 10 kg
	Heel     unit.Grams // gas that cannot be drawn; 130 g

	People        int              // drawn, 2 to 5
	Use           unit.GramsPerDay // U; drawn: lognormal, median 30, sd of the logarithm 0.5
	Serving       unit.Grams       // m̄; 6 g
	ServingLitres unit.Litres      // one serving; 0.84 L

	Scale  Scale // zero: LoadCell()
	Script []Incident
}

func (o Options) withDefaults() Options {
	o.Start = cmp.Or(o.Start, time.Date(2027, 1, 4, 6, 0, 0, 0, time.UTC))
	o.Tare = cmp.Or(o.Tare, 14_300)
	o.Fittings = cmp.Or(o.Fittings, 1_100)
	o.NetFill = cmp.Or(o.NetFill, 10_000)
	o.Heel = cmp.Or(o.Heel, 130)
	o.Serving = cmp.Or(o.Serving, 6)
	o.ServingLitres = cmp.Or(o.ServingLitres, 0.84)
	o.Scale = cmp.Or(o.Scale, LoadCell())
	return o
}

// House is one household. Its methods may be called from several goroutines.
type House struct {
	mu  sync.Mutex
	opt Options

	now    time.Time
	net    float64 // g
	shut   bool    // main valve
	losses []*Loss // all there were
	demand *demand
	scale  *scale
	truth  Truth
	due    []event // in order of time
}

// New builds a house. It panics on a negative mass, rate or number of people: a programmer's mistake.
func New(o Options) *House {
	o = o.withDefaults()
	if o.Tare < 0 || o.Fittings < 0 || o.NetFill < 0 || o.Heel < 0 || o.Use < 0 || o.Serving <= 0 || o.People < 0 {
		panic("simulated: negative mass, use or number of people in Options")
	}
	h := &House{opt: o, now: o.Start, net: float64(o.NetFill)}
	h.scale = newScale(o)
	h.demand = newDemand(o)
	h.truth.Filled = o.NetFill
	h.scale.load(o.Start, float64(h.grossTrue()))
	for _, i := range o.Script {
		h.plan(i.At, func() { h.happen(i) })
	}
	h.day(midnight(o.Start, 0))
	return h
}

// stream is a source of chance of its own for one part of the house.
func stream(seed, part uint64) *rand.Rand {
	return rand.New(rand.NewPCG(seed, part*0x9e3779b97f4a7c15+1))
}

const (
	demandStream = iota + 1
	scaleStream
	noiseStream
	roomStream
	_ // was in use once; the others keep their numbers
	partyStream
)

// midnight is the start of the local day n days after that of t.
func midnight(t time.Time, n int) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d+n, 0, 0, 0, 0, t.Location())
}

// span is a stretch of time, from included, to not.
type span struct{ from, to time.Time }

func (s span) holds(t time.Time) bool { return !t.Before(s.from) && t.Before(s.to) }
