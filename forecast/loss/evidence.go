package loss

import (
	"math"
	"time"
)

// evidence is the mean of R over the rates as it stands now.
func (f *flow) evidence() float64 {
	sum := 0.0
	for i := 1; i < chains; i++ {
		sum += f.next[i].r
	}
	return sum / float64(len(leaks))
}

// going reports that the latest step speaks for the leak that has most evidence: what has stopped is use.
func (f *flow) going() bool {
	best := 1
	for i := 2; i < chains; i++ {
		if f.next[i].r > f.next[best].r {
			best = i
		}
	}
	return f.next[best].r >= 1+f.chain[best].r
}

// found describes the leak.
func (f *flow) found(at time.Time) Found {
	var sum, g, g2, lost, lost2, age, age2 float64
	for i := 1; i < chains; i++ {
		c := &f.next[i]
		sum += c.r
		g, g2 = g+c.r*c.g, g2+c.r*(c.g*c.g+c.gg)
		lost, lost2 = lost+c.r*c.lost, lost2+c.r*c.lost*c.lost
		age, age2 = age+c.r*c.age, age2+c.r*c.age*c.age
	}
	g, lost, age = g/sum, lost/sum, age/sum
	return Found{
		Kind: kindOf(g), Since: at.Add(-time.Duration(age * float64(time.Hour))),
		Rate: perHour(g), RateSD: perHour(math.Sqrt(math.Max(g2/sum-g*g, 0))),
		Lost: grams(lost), LostSD: grams(math.Sqrt(math.Max(lost2/sum-lost*lost, 0) + f.next[0].p)),
	}
}

// follow makes the evidence for each rate its probability: the leak is believed from now on.
func (f *flow) follow() {
	sum := 0.0
	for i := 1; i < chains; i++ {
		sum += f.next[i].r
	}
	for i := 1; i < chains; i++ {
		f.next[i].r /= sum
		f.chain[i] = f.next[i]
		f.begun[i] = f.next[i]
	}
	f.chain[0] = f.lead()
	f.begun[0] = f.chain[0]
	f.at = f.sum.time()
	f.sum = mean{}
	f.losing, f.stop = true, 0
}

// forgive forgets all suspicion: every hypothesis stands where the present one does.
func (f *flow) forgive() {
	c := f.next[0]
	if f.losing {
		f.chain = f.next
		c = f.lead()
	}
	c.r, c.age, c.lost = 0, 0, 0
	for i := range f.chain {
		if i > 0 {
			c.leaks(i)
		}
		f.chain[i], f.begun[i], f.next[i] = c, c, c
	}
	f.losing, f.stop = false, 0
	f.bout = [chains]bout{{p: 1}}
	if f.sum.n > 0 {
		f.at = f.sum.time()
		f.sum = mean{}
	}
}
