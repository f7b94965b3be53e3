package signal

import (
	"math"
	"time"
)

// trust is what was believed when the scale last behaved: the level of the cylinder alone and what was taken out of the readings. What is
// recognised while a scale is erratic may be wrong, and is held against it once the scale behaves again.
type trust struct {
	at    time.Time
	level float64
	steps steps
	known bool

	odd    float64   // steps found lately, fading over a day
	stepAt time.Time // the last of them
	oddAt  time.Time // the last doubtful reading
	wild   bool      // readings came that nothing explains
	calm   int       // ordinary readings since
	from   time.Time // the first of them

	unsure bool // the level was taken from readings that nothing before confirmed
}

const (
	erratic    = 2.5           // steps within about a day, the older ones counting less: the scale is erratic
	calmCount  = 5             // ordinary readings in a row
	calmSpan   = 2 * time.Hour // and how long they must go on: it behaves again
	trustAfter = 6.0           // hours of ordinary readings, to be trusted
)

// upset notes a doubtful reading.
func (t *trust) upset(at time.Time) { t.oddAt, t.calm = at, 0 }

// step notes that a step was found.
func (t *trust) step(at time.Time) {
	t.odd, t.stepAt = t.odd*math.Exp(-math.Max(hours(t.stepAt, at), 0)/24)+1, at
	t.upset(at)
}

// behaves takes an ordinary reading. Once enough of them agree, what was found in erratic times is held against them.
func (f *Filter) behaves(r Reading) {
	t := &f.trust
	if t.calm == 0 {
		t.from = r.At
	}
	t.calm++
	if net := f.level - f.house(); net < -f.slack() || net > float64(f.opt.NetFill)+f.slack() {
		t.wild = t.wild || f.opt.NetFill > 0
	}
	switch shaky := t.wild || t.odd > erratic; {
	case shaky && t.calm >= calmCount && r.At.Sub(t.from) >= calmSpan:
		f.review(r)
		t.wild, t.odd, t.calm = false, 0, 0
		f.entrust(r.At)
	case !shaky && hours(t.oddAt, r.At) > trustAfter:
		f.entrust(r.At)
	}
}

func (f *Filter) entrust(at time.Time) {
	t := &f.trust
	if t.known && at.Sub(t.at) < time.Hour {
		return
	}
	t.at, t.level, t.steps, t.known = at, f.level, f.steps, true
}

// slack is how far the gas believed may lie outside of what fits into the cylinder: a tenth of a fill, and the scatter.
func (f *Filter) slack() float64 { return 0.1*float64(f.opt.NetFill) + gate*f.noise.sd }

// review asks which of the steps trusted before the erratic time, if any, explain the readings of now. If some do, or if what is believed cannot be, the
// filter goes by the readings.
func (f *Filter) review(r Reading) {
	t := &f.trust
	gross := f.level + f.steps.sum()
	tol := gate*f.noise.sd + 0.01*float64(f.opt.NetFill)
	use := f.ceiling(hours(t.at, r.At)) + tol
	keep, best := steps{}, math.Inf(1)
	for k := range uint(1) << t.steps.n {
		s := t.steps
		s.dropAll(k)
		if gross-s.sum() < f.house()-f.light() { // then something of it has gone unseen
			continue
		}
		if d := gross - s.sum() - t.level; t.known && d < tol && d > -use && math.Abs(d) < best {
			keep, best = s, math.Abs(d)
		}
	}
	if d := gross - t.level; t.known && d < tol && d > -use && math.Abs(d) < best {
		keep, best = steps{}, math.Abs(d)
	}
	if math.IsInf(best, 1) && !t.wild {
		return
	}
	possible := func(net float64) bool { return net >= -f.slack() && net <= float64(f.opt.NetFill)+f.slack() }
	switch net := gross - keep.sum() - float64(f.opt.House); {
	case possible(net - f.zero):
	case possible(net):
		f.zero = 0
	default:
		return
	}
	t.unsure = math.IsInf(best, 1)
	t.known = !t.unsure
	f.anew(r, keep)
}

// refilled reports that a gross mass is that of a full cylinder, with nothing beside it but what weighs little, and that the one before may have
// been low: what is believed of it, or what the scale showed.
func (f *Filter) refilled(gross float64) bool {
	fill, house := float64(f.opt.NetFill), float64(f.opt.House)
	was := f.level - house + math.Min(f.steps.sum(), 0)
	return math.Abs(gross-house-fill) < 0.05*fill+gate*f.noise.sd && was < (1-fillAlone)*fill
}

// anew goes by the readings, with the steps of keep taken out, unless that is what is believed already.
func (f *Filter) anew(r Reading, keep steps) {
	d := f.steps.sum() - keep.sum()
	f.steps = keep
	f.perhaps = fullAgain{}
	f.level += d
	f.noise.last += d
	if math.Abs(d) < 0.01*float64(f.opt.NetFill) && !f.trust.wild {
		return
	}
	f.drift.interrupt()
	if f.trust.wild {
		last := f.noise.last
		f.noise.reset()
		f.noise.last, f.noise.raw, f.noise.at = last, float64(r.Gross), r.At
	}
	f.tell(Anew, r, r.At, d, f.noise.sd)
}

// suspect notes a step that nothing which stands on a scale explains: as heavy as all gas, or down to what the gas may weigh while the level was
// unsure.
func (f *Filter) suspect(d float64) {
	net := f.level + d + f.steps.sum() - f.house()
	possible := net > -f.slack() && net < float64(f.opt.NetFill)+f.slack()
	if f.opt.NetFill > 0 && (d < -1.1*float64(f.opt.NetFill) || f.trust.unsure && d < -smallest && possible) {
		f.trust.wild = true
	}
}

// Erratic reports that the scale does not behave: what it says is no evidence of the gas.
func (f *Filter) Erratic() bool { return f.trust.wild }
