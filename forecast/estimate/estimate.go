// Package estimate turns vetted weighings of one cylinder into the net gas in it and the household's way of
// using it, both with their uncertainty, on line and in constant memory.
//
// The state is Gaussian given a handful of hypotheses: a grid of parameters (how far and how fast the household's
// level wanders, how lumpy its use is) times three modes (at home, at home after a recent lasting change, away).
// Each hypothesis carries a Kalman filter over net gas, scale offset, long-run log level and its present
// deviation; a weight says how well it has predicted. See model.go for the equations, logged.go for what logged
// servings add.
//
// It is pure and deterministic: the same calls in the same order give the same results on one architecture. On another the last bits may differ,
// where multiplication and addition are fused.
package estimate

import (
	"time"

	"tarebell/forecast/unit"
)

// Options describes one cylinder and its household, as configured.
type Options struct {
	House   unit.Grams // tare and fittings: gross minus net
	NetFill unit.Grams // net gas of a nominal fill
	Swapped bool       // each fill is another cylinder, of which no more is known than that
	Heel    unit.Grams // net gas at which the cylinder counts as run dry

	UsePrior unit.GramsPerDay // the household's own guess; 0: unknown
	Serving  unit.Grams       // gas one serving takes; 0: unknown
	Location *time.Location   // for weekdays and nights; nil: UTC
	Seed     uint64           // of the draws a forecast is made of
}

// Observation is one vetted reading: spikes, objects and lifted readings removed, known steps and the effect of
// temperature taken out.
type Observation struct {
	At    time.Time
	Gross unit.Grams

	// SD is one standard deviation of this reading's own noise; 0: the filter judges.
	SD unit.Grams
	// StepSD is the standard deviation by which the baseline became uncertain since the observation before, after a
	// re-zero or a change of fittings.
	StepSD unit.Grams
	Manual bool // typed by somebody, from a scale that is stepped onto and zeroed anew each time
}

// Normal is a mean with its standard deviation.
type Normal struct{ Mean, SD float64 }

// State is what is known at one moment.
type State struct {
	Known   bool      // at least one observation was seen
	Gas     Normal    // net gas, g
	Use     Normal    // g/day on an average day of the present way of living, without losses
	Learned bool      // the use is known from data rather than from the prior
	Watched unit.Days // from the first weighing to the last
	NoiseSD unit.Grams
	Offset  Normal  // gross minus configured house minus net, g
	Away    float64 // probability that nobody is drawing
	Ended   float64 // probability that the gas was used down to the heel, had nobody been expected to say so
}
