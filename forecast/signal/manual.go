package signal

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// typed follows weights that somebody types: few, coarse, from a bathroom scale.
type typed struct {
	sd    float64
	n     float64
	level float64
	at    time.Time
	known bool
	odd   Reading // the last that did not fit
	has   bool
}

// typedSD is what a bathroom scale scatters before its own readings say better: common practice, no source.
const typedSD = 150.0

func (t *typed) reset() { *t = typed{sd: typedSD, n: 8} }

// manual takes a typed weight: it must be possible for this cylinder, and fit the one before unless the next
// one confirms it.
func (f *Filter) manual(r Reading) {
	if !f.possible(float64(r.Gross)) {
		k := Implausible
		if f.possible(float64(r.Gross)*inPounds) || f.possible(float64(r.Gross)/inPounds) {
			k = WrongUnit
		}
		f.tell(k, r, r.At, 0, 0)
		return
	}
	t := &f.typed
	if t.known {
		e := float64(r.Gross) - f.steps.sum() - t.level
		h := hours(t.at, r.At)
		up := 5 * t.sd
		if e > up || e < -up-f.ceiling(h) {
			f.oddTyped(r, e)
			return
		}
		t.learn(e)
	}
	t.has = false
	f.acceptTyped(r, 0)
}

// inPounds is a kilogram in pounds.
const inPounds = unit.GramsPerKilogram / unit.GramsPerPound

// possible reports whether a gross mass can be this cylinder, empty to full.
func (f *Filter) possible(gross float64) bool {
	house, fill := float64(f.opt.House), float64(f.opt.NetFill)
	slack := math.Max(1000, 0.05*house)
	return gross > house-slack && gross < house+1.1*fill+slack
}

// learn lets the scatter follow e, the surprise of a typed weight over a smoothed level.
func (t *typed) learn(e float64) {
	t.n = math.Min(t.n+1, 40)
	v := t.sd*t.sd + (math.Min(e*e/1.5, 16*t.sd*t.sd)-t.sd*t.sd)/t.n
	t.sd = math.Sqrt(v)
}

// acceptTyped passes a typed weight on.
func (f *Filter) acceptTyped(r Reading, stepSD float64) {
	t := &f.typed
	x := float64(r.Gross) - f.steps.sum()
	if !t.known {
		t.level, t.known = x, true
	}
	t.level += 0.6 * (x - t.level)
	t.at = r.At
	f.vetted = append(f.vetted, Vetted{At: r.At, Gross: unit.Grams(x), SD: unit.Grams(t.sd), StepSD: unit.Grams(stepSD), Manual: true})
}

// oddTyped holds a typed weight back that is e away from what was expected; a full cylinder and a second
// weight that agrees are believed.
func (f *Filter) oddTyped(r Reading, e float64) {
	t := &f.typed
	confirmed := t.has && math.Abs(float64(r.Gross-t.odd.Gross)) < 4*t.sd+f.ceiling(hours(t.odd.At, r.At))
	switch {
	case f.full(float64(r.Gross)-f.steps.sum(), e):
		f.tell(Fill, r, r.At, e, t.sd)
		f.steps.clear()
	case !confirmed:
		t.odd, t.has = r, true
		f.tell(Implausible, r, r.At, e, t.sd)
		return
	case e > fillShare*float64(f.opt.NetFill):
		f.tell(Fill, r, t.odd.At, e, t.sd)
	case e > 0:
		f.tell(ObjectOn, r, t.odd.At, e, t.sd)
		f.steps.open(e, t.odd.At)
		f.acceptTyped(r, t.sd)
		t.has = false
		return
	default:
		f.tell(Fell, r, t.at, e, math.Sqrt2*t.sd)
	}
	t.known, t.has = false, false
	f.acceptTyped(r, 0)
}
