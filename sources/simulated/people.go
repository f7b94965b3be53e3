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

// comeAndGo lets people leave and come back.
func (d *demand) comeAndGo(day time.Time) {
	trip := func(meanExtra float64) time.Time { return midnight(day, 2+d.geometric(meanExtra)) }
	for i := range d.people {
		if d.rng.Float64() < 1/d.trip && !day.Before(d.people[i].back) {
			d.people[i].back = trip(5)
		}
	}
	if d.rng.Float64() < 1/d.away && !day.Before(d.allOut) {
		d.allOut = trip(6)
	}
}

// company is what guests and the weekly dinner add.
func (d *demand) company(day time.Time) (out []serving) {
	n, from, long := 0, 15.0, 8.0
	w := day.Weekday()
	if (w == time.Friday || w == time.Saturday || w == time.Sunday) && d.rng.Float64() < guests {
		for range 1 + d.poisson(1.5) {
			n += d.poisson(1.6)
		}
	}
	if w == d.dinner {
		from, long = 19, 3
		n += d.poisson(d.diners)
	}
	for range n {
		at := day.Add(hours(from + long*d.rng.Float64()))
		out = append(out, serving{at, d.mass(float64(d.opt.Serving))})
	}
	return out
}
