// Package signal turns raw gross readings into vetted ones: what the cylinder alone weighs, seen through
// spikes, things put down beside it, lift-offs, re-zeroing, and readings in the wrong unit.
//
// It works reading by reading, in constant memory and without allocating. A reading that fits what came
// before is passed on at once. One that does not is held back until the next ones say what it was:
//
//	the next is ordinary again            a spike: dropped, nobody is told
//	two near nothing                      the cylinder was lifted off
//	falling further, at one rate          gas may be leaving: passed on, for loss to judge
//	three that agree                      a step that stays: taken out of the stream, told once
//	three that agree on an empty cylinder gas that escaped: passed on
package signal

import (
	"math"
	"time"

	"tarebell/forecast/demand"
	"tarebell/forecast/unit"
)

// Options says what the platform carries when nothing is odd.
type Options struct {
	House   unit.Grams    // tare and fittings: gross of an empty cylinder
	NetFill unit.Grams    // net gas of a nominal fill
	Serving unit.Grams    // gas one serving takes; 0: unknown
	Use     *demand.Model // how the household draws; nil: nothing is known
}

// Reading is one raw reading.
type Reading struct {
	At      time.Time
	Gross   unit.Grams
	Temp    unit.Celsius // meaningful if HasTemp
	HasTemp bool
	Hour    float64 // of the household's week, 0 to 168, from Sunday on
}

// Vetted is a reading believed to be about the cylinder, with everything else taken out.
type Vetted struct {
	At     time.Time
	Gross  unit.Grams
	Drift  unit.Grams // of it, what the temperature is thought to have added; subtract it for the mass
	Cell   float64    // temperature the load cell is thought to have, °C
	Coef   float64    // g/°C, how the reading follows it; 0 without a temperature
	SD     unit.Grams // of this reading alone
	Grain  unit.Grams // step of the scale; 0 unknown
	StepSD unit.Grams // how uncertain the step is that lies between it and the reading before; mostly 0

	// ShiftSD is how uncertain the zero of the scale has become for good, g. What stands beside the cylinder and goes again leaves the
	// zero as it was: until then, for two days, Beside is set, and the reading says less than those before and after.
	ShiftSD unit.Grams
	Beside  bool
	Alone   bool // what stood there is gone: the zero is the one before it came
	Ended   bool // the cylinder is empty, as far as its tare and fittings are known
}

// Kind is what was recognised.
type Kind int

// The kinds.
const (
	Lifted Kind = iota
	Returned
	ObjectOn
	ObjectOff
	Step    // a step that stays and is no object: re-zeroed, a fitting off or on
	Fell    // less than before a silence, by more than is drawn on most days, or by what may be drawn at one stroke: passed on as gas that went, until somebody says otherwise
	Emptied // down to an empty cylinder at one stroke, or in a silence: the same
	Fill
	Stuck
	TemperatureDrift
	WrongUnit
	Implausible
	FillGone // what was taken for a fill left again
	Anew     // the readings agree and do not fit what was believed: it goes by them now
)

// Found is one thing recognised.
type Found struct {
	Kind   Kind
	Since  time.Time
	Before time.Time  // the last ordinary reading before it
	Mass   unit.Grams // stepped or put in; with TemperatureDrift: per degree
	SD     unit.Grams
	Gross  unit.Grams // the reading that showed it
}

// Outcome is what one reading led to. The slices are valid until the next call.
type Outcome struct {
	Vetted   []Vetted
	Found    []Found
	Doubtful bool // the reading is held back; another one soon would help
}

// held is how many odd readings may wait for an explanation.
const held = 6

// Filter vets readings. Use New.
type Filter struct {
	opt          Options
	noise        noise
	drift        drift
	stuck        stuck
	steps        steps
	level        float64 // of the cylinder alone, g
	n            int     // readings behind level, up to a few
	at           time.Time
	pend         [held]Reading
	np           int
	wild         int  // odd readings in a row that nothing explains
	off          bool // lifted off
	stepSD       float64
	shiftSD      float64
	zero         float64    // by how much the platform's zero has been off since the fill, or before, g
	told         unit.Grams // net mass of a fill that somebody told of
	lastFall     lastFall
	batches      batches
	dry          bool // said to be, and no ordinary reading since
	alone        bool
	pace         float64 // g/h of a fall passed on that still goes on
	trust        trust
	possibleFill possibleFill // a fill that came without a lift-off
	lastFill     lastFill     // the latest fill seen
	booked       time.Time    // the noon of the day for which a refill is booked; zero: for none

	vetted []Vetted
	found  []Found
}

// New starts a filter that has seen nothing.
func New(o Options) *Filter {
	f := &Filter{opt: o, vetted: make([]Vetted, 0, 2*held), found: make([]Found, 0, held)}
	f.noise.reset()
	return f
}

// Next vets one reading. Readings come in order of time.
func (f *Filter) Next(r Reading) Outcome {
	f.vetted, f.found = f.vetted[:0], f.found[:0]
	switch {
	case f.off:
		f.await(r)
	default:
		f.judge(r)
	}
	f.watch(r)
	f.warn(r)
	return Outcome{f.vetted, f.found, f.np > 0}
}

// SD is what a single reading of the scale scatters, as learned so far.
func (f *Filter) SD() unit.Grams { return unit.Grams(f.noise.sd) }

// Refilled says that the next readings are those of a fresh fill of net over house: what came before does not matter.
func (f *Filter) Refilled(house, net unit.Grams) {
	f.opt.House, f.told, f.booked = house, net, time.Time{}
	f.n, f.np, f.stepSD, f.pace, f.dry, f.possibleFill, f.trust, f.lastFall, f.lastFill = 0, 0, 0, 0, false, possibleFill{}, trust{}, lastFall{}, lastFill{}
	f.clear()
}

// Expect says that a refill is booked for a day.
func (f *Filter) Expect(day time.Time) { f.booked = day }

// RanDry says that the cylinder could no longer carbonate.
func (f *Filter) RanDry() { f.dry = true }

// Undo makes the latest step downwards one of gas: from now on the stream shows it, if it did not yet. It returns when that was and the step's mass, 0 if there
// is none. The household may draw as much again, if it drew that, and not if it did not.
func (f *Filter) Undo(drawn bool) (since time.Time, mass unit.Grams) {
	x := f.lastFall
	f.lastFall = lastFall{}
	for i := f.steps.n - 1; i >= 0 && x.mass == 0; i-- {
		if d := f.steps.mass[i]; d < 0 {
			x = lastFall{mass: d, since: f.steps.since[i]}
			f.steps.drop(i)
			f.level += d
		}
	}
	f.answered(x, drawn)
	return x.since, unit.Grams(x.mass)
}

// answered learns from what somebody said of a fall.
func (f *Filter) answered(x lastFall, drawn bool) {
	switch {
	case drawn && x.mass < 0:
		f.batches.add(-x.mass)
	case x.batch:
		f.batches = batches{}
	}
}

// TakeOut declares that the stream stepped by d for a reason that is not gas.
func (f *Filter) TakeOut(d, sd unit.Grams, since time.Time) {
	f.steps.add(float64(d), since)
	f.level -= float64(d)
	f.stepSD, f.shiftSD = float64(sd), float64(sd)
}

// lastFall is the latest step, if it was passed on as gas.
type lastFall struct {
	mass, sd float64
	since    time.Time
	batch    bool // as drawn at one stroke
}

// lastFill is a fill that was seen: how much gas came onto the platform, when, and what else came with it.
type lastFill struct {
	mass, beside float64
	at           time.Time
}

// leaves reports that a step of d, settled by now, takes the latest fill off the platform again, alone or with all that came with it: what came with the
// cylinder was no gas.
func (f *Filter) leaves(d float64, now time.Time) (all, some bool) {
	if f.lastFill.mass <= 0 || now.Sub(f.lastFill.at) >= staying {
		return false, false
	}
	takes := func(m float64) bool {
		x := steps{n: 1}
		x.mass[0] = m
		return x.undoneBy(d, 4*f.noise.sd+placing, f.ceiling(hours(f.at, now))/4) != 0
	}
	all = f.lastFill.beside > 0 && takes(f.lastFill.mass+f.lastFill.beside)
	return all, all || takes(f.lastFill.mass)
}

// ShiftFell takes the latest step out of the stream after all, if it was passed on as gas: it was none. It returns its mass, negative, else 0.
func (f *Filter) ShiftFell() (mass, sd unit.Grams) {
	x := f.lastFall
	if x.mass != 0 {
		f.TakeOut(unit.Grams(x.mass), unit.Grams(x.sd), x.since)
	}
	f.answered(x, false)
	f.lastFall = lastFall{}
	return unit.Grams(x.mass), unit.Grams(x.sd)
}

// House is what the platform shows of the cylinder without gas, so far as it is known where its zero is.
func (f *Filter) House() unit.Grams { return unit.Grams(f.house()) }

// house is the same, g.
func (f *Filter) house() float64 { return float64(f.opt.House) + f.zero }

// clear forgets all steps: another fill begins. The zero was off by what was taken for a shift of it.
func (f *Filter) clear() {
	x := f.steps.shifted()
	f.shiftSD = math.Hypot(f.shiftSD, x)
	f.zero += x
	f.steps.clear()
}

func (f *Filter) tell(k Kind, r Reading, since time.Time, mass, sd float64) {
	f.found = append(f.found, Found{Kind: k, Since: since, Before: f.at, Mass: unit.Grams(mass), SD: unit.Grams(sd), Gross: r.Gross})
}
