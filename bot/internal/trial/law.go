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

	rate    [2]float64 // mean use, g/day, uniform in the logarithm; zero: an ordinary household's
	nets    []float64  // fills, g; nil: an ordinary household's
	serving [2]float64 // g; zero: 4 to 12
	sharp   bool       // the scale is one for kilograms, not for hundredweights
	habits  func(h *Home, r chance) habits
}

// habits are the numbers of one household.
type habits struct {
	level  func(day int) float64        // use of a day over the mean use; the mean of this is about 1
	hour   func(day int) float64        // of a serving; 24 and more is the next morning
	burst  func(day int) []draw         // drawn on that day beside that
	away   float64                      // chance of a day that everybody leaves for some days
	party  float64                      // chance of a day of 6 to 20 servings in an evening
	wander [2]float64                   // sd of the logarithm of the level, within; zero: 0.08 to 0.4
	steps  []struct{ from, by float64 } // lasting changes of use
	most   float64                      // of level over mean; 0: no bound
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

// mealtimes is a day of breakfast, dinner and supper.
func mealtimes(r chance) func(int) float64 {
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

// draws are all servings up to h.end, in order.
func (h *Home) drawAll(l *Law) []draw {
	r := newChance(h.Seed, useStream)
	b := l.habits(h, r)
	if b.wander == [2]float64{} {
		b.wander = [2]float64{0.08, 0.4}
	}
	tau, sd := r.between(15, 90), r.between(b.wander[0], b.wander[1])
	a, x, away := math.Exp(-1/tau), sd*r.NormFloat64(), -1
	var out []draw
	for d := range h.end/day + 2 {
		x = a*x + sd*math.Sqrt(1-a*a)*r.NormFloat64()
		level := b.level(d) * math.Exp(x-sd*sd/2)
		for _, s := range b.steps {
			if float64(d) >= s.from {
				level *= s.by
			}
		}
		if b.most > 0 {
			level = min(level, b.most)
		}
		if d > away && r.happens(b.away) {
			away = d + 3 + r.IntN(12)
		}
		if d <= away {
			continue
		}
		for range r.poisson(level * h.rate / h.serving) {
			out = append(out, draw{clock(d, b.hour(d)), h.serving * r.between(0.75, 1.3)})
		}
		if r.happens(b.party) {
			for range 6 + r.IntN(15) {
				out = append(out, draw{clock(d, r.between(18, 23)), h.serving * r.between(0.8, 1.3)})
			}
		}
		if b.burst != nil {
			out = append(out, b.burst(d)...)
		}
	}
	out = slices.DeleteFunc(out, func(w draw) bool { return w.minute < 0 || w.minute >= h.end })
	slices.SortStableFunc(out, func(a, b draw) int { return a.minute - b.minute })
	return out
}

// clock is the minute of an hour of a day. Time starts at six in the morning of a Monday.
func clock(d int, hour float64) int { return int((float64(d)*24 + hour - 6) * 60) }
