package simulated

import (
	"math"
	"math/rand/v2"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// servingShape is the shape of the gamma law of a serving: coefficient of variation 1/√6.
const servingShape = 6

// The habits of a household that drinks most at the weekend.
const (
	season    = 0.1  // a
	sigma     = 0.15 // σ
	levelDays = 60   // time constant of the level X
	guests    = 0.5  // chance of guests on a Friday, Saturday or Sunday
)

// weekFactor is W, Sunday first, with mean 1.
var weekFactor = [7]float64{2, 7. / 24, 7. / 24, 7. / 24, 7. / 24, 23. / 12, 23. / 12}

// serving is one wish to draw.
type serving struct {
	at   time.Time
	mass float64
}

// demand draws what people want, day by day.
type demand struct {
	opt    Options
	rng    *rand.Rand
	use    float64
	people []person
	dinner time.Weekday
	diners float64 // μ
	trip   float64 // mean days between a person's trips
	away   float64 // mean days between trips of all
	level  float64 // X
	allOut time.Time

	next time.Time // local midnight of the day to draw next
}

func newDemand(o Options) *demand {
	r := stream(o.Seed, demandStream)
	d := &demand{opt: o, rng: r, next: midnight(o.Start, 0), diners: 3 * r.Float64(), trip: 90, away: 150}
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
	d.level = sigma * r.NormFloat64()
	return d
}

// drawDay draws what people want on one local day.
func (d *demand) drawDay() []serving {
	day := d.turn()
	today := d.residents(day)
	if !day.Before(d.allOut) {
		today = append(today, d.company(day)...)
	}
	return today
}

// turn begins the next day: the level wanders, people leave and come back.
func (d *demand) turn() time.Time {
	day := d.next
	d.next = midnight(day, 1)
	d.wander()
	d.comeAndGo(day)
	return day
}

// residents draws what the people who live here want on a day.
func (d *demand) residents(day time.Time) (out []serving) {
	for _, p := range d.people {
		for range d.poisson(d.servings(day, p)) {
			out = append(out, serving{d.hour(day, p), d.mass(p.mean)})
		}
	}
	return out
}

// servings is λ on a day whose level is drawn.
func (d *demand) servings(day time.Time, p person) float64 {
	if day.Before(p.back) || day.Before(d.allOut) {
		return 0
	}
	return p.share * p.week[day.Weekday()] * d.factor(day)
}

// factor is W·S·exp(X − σ²/2).
func (d *demand) factor(day time.Time) float64 {
	return weekFactor[day.Weekday()] * seasonAt(day) * math.Exp(d.level-sigma*sigma/2)
}

// seasonAt is S on day t: divided by I0(0.1), the modified Bessel function of order 0 (Abramowitz and Stegun 9.6.10), so that its mean over
// a year is 1.
func seasonAt(t time.Time) float64 {
	return math.Exp(season*math.Cos(yearAngle(t))) / 1.002501562934096
}

// yearAngle is 0 on the 200th day of the year.
func yearAngle(t time.Time) float64 { return 2 * math.Pi * float64(t.YearDay()-200) / 365.25 }

// wander moves the level on by a day: X' = φX + σ√(1−φ²)·ε, φ = exp(−1/60).
func (d *demand) wander() {
	phi := math.Exp(-1. / levelDays)
	d.level = phi*d.level + sigma*math.Sqrt(1-phi*phi)*d.rng.NormFloat64()
}

// hour is when on the day p draws: within the day, whatever the clock does.
func (d *demand) hour(day time.Time, p person) time.Time {
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

// party is servings over a stretch of time, independent of everything else.
func (d *demand) party(i Incident) (out []serving) {
	r := stream(d.opt.Seed^uint64(i.At.UnixNano()), partyStream)
	for range i.Servings {
		at := i.At.Add(time.Duration(r.Float64() * float64(i.For)))
		out = append(out, serving{at, distuv.Gamma{Alpha: servingShape, Beta: servingShape / float64(d.opt.Serving), Src: r}.Rand()})
	}
	return out
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }
