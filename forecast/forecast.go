// Package forecast is the running judgement of one cylinder: weighings and events go in, what changed
// and what is to be expected comes out.
//
// It is pure: no I/O, no clock, no globals, and chance only from the seed in Options. The same inputs in
// the same order give the same outputs on one architecture. Subpackages hold the mathematics; this package only
// chains them: signal (is the reading about gas?) → loss (did gas go that nobody used?) → estimate (net
// gas and use) → runout (when is it gone?).
package forecast

import (
	"time"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// Options describes one cylinder and its household, as configured.
type Options struct {
	Tare        unit.Grams   // stamped, valve included
	Fittings    unit.Grams   // what rests on the platform besides the cylinder
	NetFill     unit.Grams   // net gas of a nominal fill
	Swapped     bool         // a refill is another cylinder, of another tare unless told
	Capacity    unit.Litres  // water capacity; 0: NetFill at the 68 % of 49 CFR 173.304a
	MinPressure unit.Pascals // absolute; below it carbonating is pointless; 0: the default of 5 bar
	Room        unit.Celsius // temperature when no reading brings one; 0: the default of 20 °C

	// UsePrior is the household's own guess; 0: unknown.
	UsePrior unit.GramsPerDay
	Serving  unit.Grams     // gas one serving takes; 0: unknown
	Location *time.Location // for weekdays and nights; nil: UTC
	Quiet    Quiet          // the household's quiet hours; zero: not known
	Seed     uint64
}

// Quiet are hours of each day in which the household wants to be left alone, after midnight, 0 to 24 h; they may reach
// over it. Gas that goes in the night is judged by what of the night lies in them.
type Quiet struct{ From, To time.Duration }

// FindingKind is a thing noticed in the readings that is not ordinary use.
type FindingKind int

// The findings.
const (
	AbruptLoss       FindingKind = iota // more gas gone than any use explains
	SlowLoss                            // gas leaves while nobody draws
	LossStopped                         // a told loss has ended
	Lifted                              // the cylinder is off the platform
	Returned                            // and back
	ObjectOn                            // something else stands on the platform
	ObjectOff                           // and is gone
	ZeroStep                            // a step that stays: platform re-zeroed, fitting taken off or put on
	FillSeen                            // gas came in; its mass is what the cylinder holds now
	Stuck                               // the scale repeats itself
	TemperatureDrift                    // reading follows temperature beyond the load-cell class
	WrongUnit                           // a typed or sent weight looks like another unit
	Implausible                         // cannot be this cylinder at all
	Rebased                             // readings that agree do not fit what was believed; it goes by them now
	Fell                                // less than before a silence, or at one stroke: passed on as gas that went, until it is answered
	FillGone                            // what was taken for gas that came in left again
)

// Finding is one such thing. Fields that do not apply are zero.
type Finding struct {
	Kind   FindingKind
	At     time.Time  // when it was recognised
	Since  time.Time  // when it is thought to have begun
	Before time.Time  // the last ordinary reading before a step; zero: there was none
	Mass   unit.Grams // lost, stepped or held so far
	MassSD unit.Grams
	Rate   unit.GramsPerHour // of a loss
	RateSD unit.GramsPerHour
	Gross  unit.Grams // the reading that showed it
}

// Normal is a mean with its standard deviation.
type Normal struct{ Mean, SD float64 }

// Outlook is what is known and expected at one moment.
type Outlook struct {
	At        time.Time
	Known     bool                // at least one weighing was usable
	Learned   bool                // the use is learned from data; false: from the prior, and said so
	Watched   unit.Days           // from the first weighing to the last, all fills together
	Since     time.Time           // first weighing of this fill
	LastSeen  time.Time           // last usable weighing
	Gas       Normal              // net gas, g
	Use       Normal              // g/day, without losses
	Loss      Normal              // g/h, 0 when none is believed
	Heel      unit.Grams          // gas that cannot be used
	DryMass   unit.Grams          // net gas when the last liquid boils off
	LiquidDry runout.Distribution // days from At
	RunOut    runout.Distribution // days from At, given that nobody said that it ran dry
	Ended     float64             // probability that it has run dry, had nobody been expected to say so
}
