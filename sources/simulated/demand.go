package simulated

import (
	"math"
	"math/rand/v2"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/unit"
)

// servingShape is the shape of the gamma law of a serving: coefficient of variation 1/√6.
const servingShape = 6

// levelDays is the time constant of the level X.
const levelDays = 60

// serving is one wish to draw.
type serving struct {
	at     time.Time
	mass   float64
	person int // len(people): a guest
}

// demand draws what people want, day by day.
type demand struct {
	opt    Options
	law    habits
	rng    *rand.Rand
	use    float64
	people []person
	dinner time.Weekday
	level  float64 // X
	on     bool    // in a spell
	allOut time.Time
	free   bool // vacation

	next   time.Time // local midnight of the day to draw next
	today  line      // wishes of the day drawn
	extra  line      // of parties in the script
	wanted float64   // g, all wishes of the people in residence
	mean   float64   // g, their conditional expectation given level, spells and presence
	vary   float64   // g², and variance
}

func newDemand(o Options) *demand {
	r := stream(o.Seed, demandStream)
	d := &demand{opt: o, rng: r, next: midnight(o.Start, 0)}
	d.law = habitsOf(o.Kind, r)
	d.use = math.Exp(math.Log(30) + 0.5*r.NormFloat64())
	if o.Use > 0 {
		d.use = float64(o.Use)
	}
	n := 2 + r.IntN(4)
	if o.People > 0 {
		n = o.People
	}
	for range n {
		d.people = append(d.people, d.newPerson())
	}
	d.shares()
	d.dinner = time.Weekday(r.IntN(7))
	d.level = d.law.level * r.NormFloat64()
	d.on = r.Float64() < spellOn/(spellOn+spellOff)
	return d
}

// drawDay draws the wishes of one local day.
func (d *demand) drawDay() {
	day := d.next
	d.next = midnight(day, 1)
	d.wander()
	d.comeAndGo(day)
	common := d.factor(day)
	d.today = line{wishes: d.today.wishes[:0]}
	for i := range d.people {
		p := &d.people[i]
		if p.free || day.Before(p.back) || day.Before(d.allOut) {
			continue
		}
		rate := p.share * p.week[day.Weekday()] * common // servings
		d.mean += rate * p.mean
		d.vary += rate * p.mean * p.mean * (1 + 1./servingShape)
		for range d.poisson(rate) {
			s := serving{d.hour(day, p), d.mass(p.mean), i}
			d.wanted += s.mass
			d.add(s)
		}
	}
	if !day.Before(d.allOut) {
		d.company(day)
	}
	d.today.sort()
}

// factor is W·S·G·V·exp(X − σ²/2).
func (d *demand) factor(day time.Time) float64 {
	f := d.law.week[day.Weekday()] * seasonAt(d.law.season, day) * math.Exp(d.level-d.law.level*d.law.level/2)
	days := float64(unit.Between(d.opt.Start, day))
	f *= 1 + (d.law.growth-1)*(1-math.Exp(-max(days, 0)/120))
	if d.law.spells {
		if !d.on {
			return 0
		}
		f *= (spellOn + spellOff) / spellOn
	}
	if _, exams := vacation(day); d.law.terms && exams {
		f *= 1.3
	}
	return f
}

// wander moves the level on by a day: X' = φX + σ√(1−φ²)·ε, φ = exp(−1/60).
func (d *demand) wander() {
	phi := math.Exp(-1. / levelDays)
	d.level = phi*d.level + d.law.level*math.Sqrt(1-phi*phi)*d.rng.NormFloat64()
	leave := 1 / spellOff
	if d.on {
		leave = 1 / spellOn
	}
	if d.rng.Float64() < leave {
		d.on = !d.on
	}
}

// Mean lengths of spells, days.
const (
	spellOn  = 6.0
	spellOff = 10.0
)

// add queues s unless it lies before the start.
func (d *demand) add(s serving) {
	if !s.at.Before(d.opt.Start) {
		d.today.wishes = append(d.today.wishes, s)
	}
}

// hour is when on the day p draws: within the day, whatever the clock does.
func (d *demand) hour(day time.Time, p *person) time.Time {
	h := 19 + 2*d.rng.NormFloat64()
	if d.rng.Float64() < p.morning {
		h = 7.5 + 0.8*d.rng.NormFloat64()
	}
	at := day.Add(hours(min(max(h, 0), 24)))
	if !at.Before(d.next) {
		at = d.next.Add(-time.Second)
	}
	return at
}

func (d *demand) mass(mean float64) float64 {
	return distuv.Gamma{Alpha: servingShape, Beta: servingShape / mean, Src: d.rng}.Rand()
}

func (d *demand) poisson(mean float64) int {
	if mean <= 0 {
		return 0
	}
	return int(distuv.Poisson{Lambda: mean, Src: d.rng}.Rand())
}

// geometric is a number of days, 0 or more, with the mean given.
func (d *demand) geometric(mean float64) int {
	return int(math.Log(1-d.rng.Float64()) / math.Log(mean/(1+mean)))
}

// party queues n servings over a stretch of time, independent of everything else.
func (d *demand) party(i Incident) {
	r := stream(d.opt.Seed^uint64(i.At.UnixNano()), partyStream)
	for range i.Servings {
		at := i.At.Add(time.Duration(r.Float64() * float64(i.For)))
		m := distuv.Gamma{Alpha: servingShape, Beta: servingShape / float64(d.opt.Serving), Src: r}.Rand()
		d.extra.wishes = append(d.extra.wishes, serving{at, m, len(d.people)})
	}
	d.extra.sort()
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }
