package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Law is how a sort of household uses gas.
type Law struct {
	Name  string
	About string

	rate   [2]float64 // mean use, g/day, uniform in the logarithm; zero: an ordinary household's
	nets   []float64  // fills, g; nil: an ordinary household's
	sharp  bool       // the scale is one for kilograms, not for hundredweights
	habits func(h *Home, r rng) habits
}

// change is a lasting change of use, from a day on.
type change struct{ from, by float64 }

// habits are the numbers of one household.
type habits struct {
	level  func(day int) float64 // use of a day over the mean use; the mean of this is about 1
	hour   func(day int) float64 // of a serving; 24 and more is the next morning
	burst  func(day int) []draw  // drawn on that day beside that
	away   float64               // chance of a day that everybody leaves for some days
	party  float64               // chance of a day of 6 to 21 servings in an evening
	wander [2]float64            // sd of the logarithm of the level, within; zero: 0.08 to 0.4
	steps  []change
	most   float64 // of level over mean; 0: no bound
}

// draw is a serving.
type draw struct {
	minute int
	grams  float64
}

// LawNamed finds a law.
func LawNamed(name string) (*Law, error) {
	var names []string
	for i := range Laws {
		if Laws[i].Name == name {
			return &Laws[i], nil
		}
		names = append(names, Laws[i].Name)
	}
	return nil, fmt.Errorf("law %q: want one of %s", name, strings.Join(names, ", "))
}

// course is the use of a household, drawn day by day.
type course struct {
	*Home
	habits
	rng
	keep, sd float64 // of the wandering level: how much of it stays to the next day, and its sd
	x        float64 // logarithm of the level
	back     int     // the last day that everybody is away
}

// drawAll draws all servings up to h.end, in order.
func (h *Home) drawAll() []draw {
	r := newRNG(h.Seed, useStream)
	c := course{Home: h, habits: h.Law.habits(h, r), rng: r, back: -1}
	if c.wander == [2]float64{} {
		c.wander = [2]float64{0.08, 0.4}
	}
	c.keep, c.sd = math.Exp(-1/r.between(15, 90)), r.between(c.wander[0], c.wander[1])
	c.x = c.sd * r.NormFloat64()
	var out []draw
	for d := range h.end/day + 2 {
		out = append(out, c.day(d)...)
	}
	out = slices.DeleteFunc(out, func(w draw) bool { return w.minute < 0 || w.minute >= h.end })
	sortBy(out, func(w draw) int { return w.minute })
	return out
}

// day draws what is drawn on a day.
func (c *course) day(d int) (out []draw) {
	c.x = c.keep*c.x + c.sd*math.Sqrt(1-c.keep*c.keep)*c.NormFloat64()
	level := c.level(d) * math.Exp(c.x-c.sd*c.sd/2)
	for _, s := range c.steps {
		if float64(d) >= s.from {
			level *= s.by
		}
	}
	if c.most > 0 {
		level = min(level, c.most)
	}
	if d > c.back && c.happens(c.away) {
		c.back = d + 3 + c.IntN(12)
	}
	if d <= c.back {
		return nil
	}
	for range c.poisson(level * c.rate / c.serving) {
		out = append(out, draw{clock(d, c.hour(d)), c.serving * c.between(0.75, 1.3)})
	}
	if c.happens(c.party) {
		for range 6 + c.IntN(16) {
			out = append(out, draw{clock(d, c.between(18, 23)), c.serving * c.between(0.8, 1.3)})
		}
	}
	if c.burst != nil {
		out = append(out, c.burst(d)...)
	}
	return out
}

// clock is the minute of an hour of a day. Time starts at six in the morning of a Monday.
func clock(d int, hour float64) int { return int((float64(d)*24 + hour - 6) * 60) }

// mealtimes is a day of breakfast, dinner and supper.
func mealtimes(r rng) func(int) float64 {
	return func(int) float64 {
		h := r.between(8, 23)
		switch r.IntN(4) {
		case 0:
			h = r.normal(8, 1)
		case 1:
			h = r.normal(13, 1.2)
		case 2:
			h = r.normal(19.5, 1.8)
		}
		return min(max(h, 6.5), 23.9)
	}
}
