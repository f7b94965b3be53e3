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
	zero  float64
	sd    float64 // what a reading scattered by
	known bool

	odd      float64   // steps found lately, fading over a day
	stepAt   time.Time // the last of them
	oddAt    time.Time // the last doubtful reading
	wild     bool      // readings came that nothing explains
	rough    bool      // they scattered by far more than they did
	ordinary ordinaryRun

	unsure bool // the level was taken from readings that nothing before confirmed
}

const (
	erratic    = 2.5           // steps within about a day, the older ones counting less: the scale is erratic
	calmCount  = 5             // ordinary readings in a row
	calmSpan   = 2 * time.Hour // and how long they must go on: it behaves again
	trustAfter = 6.0           // hours of ordinary readings, to be trusted
	calmMemory = 8             // readings
	rougher    = 3.0           // times the scatter it had: the scale is erratic. Ours
	wornAfter  = 72.0          // hours; when that goes on for so long, it is the scatter of the scale now. Ours
)

// ordinaryRun are the ordinary readings since the last doubtful one.
type ordinaryRun struct {
	n     int
	from  time.Time
	last  float64
	gross float64 // mean of the latest
	apart float64 // and of how far each of them lies from the one before
	falls float64 // the same with its sign: what is drawn
}

func (c *ordinaryRun) take(r Reading) {
	x := float64(r.Gross)
	if c.n == 0 {
		*c = ordinaryRun{from: r.At, last: x}
	}
	c.n++
	k := 1 / float64(min(c.n, calmMemory))
	c.gross += k * (x - c.gross)
	c.apart += k * (math.Abs(x-c.last) - c.apart)
	c.falls += k * (x - c.last - c.falls)
	c.last = x
}

// sd is what the latest of them scatter by, g, by the mean difference of neighbours as in noise.
func (c *ordinaryRun) sd() float64 { return (c.apart - math.Abs(c.falls)) * math.Sqrt(math.Pi) / 2 }

// upset notes a doubtful reading.
func (t *trust) upset(at time.Time) { t.oddAt, t.ordinary.n = at, 0 }

// step notes that a step was found.
func (t *trust) step(at time.Time) {
	t.odd, t.stepAt = t.odd*math.Exp(-math.Max(hours(t.stepAt, at), 0)/24)+1, at
	t.upset(at)
}

// behaves takes an ordinary reading. Once enough of them agree, what was found in erratic times is held against them.
func (f *Filter) behaves(r Reading) {
	t := &f.trust
	t.ordinary.take(r)
	if f.scatters(r.At) {
		t.rough = true
		return
	}
	if net := f.level - f.house(); net < -f.slack() || net > float64(f.opt.NetFill)+f.slack() {
		t.wild = t.wild || f.opt.NetFill > 0
	}
	switch shaky := t.wild || t.rough || t.odd > erratic; {
	case shaky && t.ordinary.n >= calmCount && r.At.Sub(t.ordinary.from) >= calmSpan:
		f.review(r)
		t.wild, t.rough, t.odd, t.ordinary.n = false, false, 0, 0
		f.entrust(r.At)
	case !shaky && hours(t.oddAt, r.At) > trustAfter:
		f.entrust(r.At)
	}
}

// scatters reports that the ordinary readings of now lie much further apart than they did when the scale was trusted, which was lately.
func (f *Filter) scatters(at time.Time) bool {
	t := &f.trust
	return t.known && t.ordinary.n >= calmCount && t.ordinary.sd() > rougher*t.sd && hours(t.at, at) < wornAfter
}

func (f *Filter) entrust(at time.Time) {
	t := &f.trust
	if t.known && at.Sub(t.at) < time.Hour {
		return
	}
	t.at, t.level, t.steps, t.zero, t.sd, t.known = at, f.level, f.steps, f.zero, f.noise.sd, true
}

// slack is how far the gas believed may lie outside of what fits into the cylinder: a tenth of a fill, and the scatter.
func (f *Filter) slack() float64 { return 0.1*float64(f.opt.NetFill) + gate*f.noise.sd }

// review asks which of the steps trusted before the erratic time, if any, explain the readings of now. If some do, or if what is believed cannot be, the
// filter goes by the readings.
func (f *Filter) review(r Reading) {
	t := &f.trust
	gross, sd := f.level+f.steps.sum(), f.noise.sd
	if t.rough {
		gross, sd = t.ordinary.gross, math.Max(t.ordinary.sd(), t.sd)
	}
	zero := f.zero
	if t.known {
		zero = t.zero
	}
	tol := gate*sd + 0.01*float64(f.opt.NetFill)
	use := f.ceiling(hours(t.at, r.At)) + tol
	keep, best := steps{}, math.Inf(1)
	for k := range uint(1) << t.steps.n {
		s := t.steps
		s.dropAll(k)
		if gross-s.sum() < float64(f.opt.House)+zero-f.light() { // then something of it has gone unseen
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
	fill := float64(f.opt.NetFill)
	possible := func(net float64) bool { return net >= -f.slack() && net <= fill+f.slack() }
	net := gross - keep.sum() - float64(f.opt.House)
	if !possible(net - zero) {
		zero = 0
	}
	below := net < zero && !math.IsInf(best, 1) // the readings go on from what was trusted, and less gas than none is left
	if !possible(net-zero) && !below {
		return
	}
	f.zero = net - math.Min(math.Max(net-zero, 0), fill) // the zero takes what lies below nothing or above full
	t.unsure = math.IsInf(best, 1)
	t.known = !t.unsure
	f.anew(r, gross, keep)
}

// refilled reports that a gross mass is that of a full cylinder, with nothing beside it but what weighs little, and that the one before may have
// been low: what is believed of it, or what the scale showed.
func (f *Filter) refilled(gross float64) bool {
	fill, house := float64(f.opt.NetFill), float64(f.opt.House)
	was := f.level - house + math.Min(f.steps.sum(), 0)
	return math.Abs(gross-house-fill) < 0.05*fill+gate*f.noise.sd && was < (1-fillAlone)*fill
}

// anew goes by the gross mass that the readings agree on, with the steps of keep taken out, unless that is what is believed already.
func (f *Filter) anew(r Reading, gross float64, keep steps) {
	d := gross - keep.sum() - f.level
	f.steps = keep
	f.possibleFill = possibleFill{}
	f.level += d
	f.noise.last += d
	if math.Abs(d) < 0.01*float64(f.opt.NetFill) && !f.trust.wild {
		return
	}
	f.drift.interrupt()
	if f.trust.wild || f.trust.rough {
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
