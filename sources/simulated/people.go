package simulated

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// person has habits of their own.
type person struct {
	share   float64 // a_p
	mean    float64 // serving, g
	week    [7]float64
	morning float64 // chance that a serving is a morning one
	back    time.Time
	free    bool // left for this vacation
}

func (d *demand) newPerson() person {
	r := d.rng
	p := person{
		share:   distuv.Gamma{Alpha: 3, Beta: 3, Src: r}.Rand(),
		mean:    float64(d.opt.Serving) * math.Exp(0.15*r.NormFloat64()-0.15*0.15/2),
		morning: 0.1 + 0.5*r.Float64(),
	}
	sum := 0.0
	for i := range p.week {
		p.week[i] = math.Exp(0.2 * r.NormFloat64())
		sum += p.week[i]
	}
	for i := range p.week {
		p.week[i] *= 7 / sum
	}
	return p
}

// shares scales what people drink so that together, in mass, they use U.
func (d *demand) shares() {
	sum := 0.0
	for _, p := range d.people {
		sum += p.share * p.mean
	}
	for i := range d.people {
		d.people[i].share *= d.use / sum
	}
}

// comeAndGo lets people leave, come back, move in and out.
func (d *demand) comeAndGo(day time.Time) {
	trip := func(meanExtra float64) time.Time { return midnight(day, 2+d.geometric(meanExtra)) }
	for i := range d.people {
		if d.rng.Float64() < 1/d.law.trip && !day.Before(d.people[i].back) {
			d.people[i].back = trip(5)
		}
	}
	if d.rng.Float64() < 1/d.law.holiday && !day.Before(d.allOut) {
		d.allOut = trip(6)
	}
	if d.law.terms {
		d.term(day)
	}
}

// term empties a student flat for the vacations (each resident with chance 0.7) and changes a resident at the
// start of March and October (chance 0.5).
func (d *demand) term(day time.Time) {
	free, _ := vacation(day)
	if free != d.free {
		for i := range d.people {
			d.people[i].free = free && d.rng.Float64() < 0.7
		}
	}
	d.free = free
	if day.Day() == 1 && (day.Month() == time.March || day.Month() == time.October) && d.rng.Float64() < 0.5 {
		i := d.rng.IntN(len(d.people))
		p := d.newPerson()
		p.share *= d.use / (float64(len(d.people)) * p.mean)
		d.people[i] = p
	}
}

// company is what guests, the weekly dinner and parties add.
func (d *demand) company(day time.Time) {
	n, from, long := 0, 15.0, 8.0
	w := day.Weekday()
	if (w == time.Friday || w == time.Saturday || w == time.Sunday) && d.rng.Float64() < d.law.guests {
		for range 1 + d.poisson(1.5) {
			n += d.poisson(1.6)
		}
		if d.law.terms && d.rng.Float64() < 0.15 {
			n += d.poisson(25)
		}
	}
	if w == d.dinner {
		from, long = 19, 3
		n += d.poisson(d.law.dinner)
	}
	for range n {
		at := day.Add(hours(from + long*d.rng.Float64()))
		d.add(serving{at, d.mass(float64(d.opt.Serving)), len(d.people)})
	}
}
