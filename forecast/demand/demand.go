// Package demand knows how this household draws. The judge of losses and the vetting of readings ask it; the estimate of the use does not yet.
//
// Use comes in bouts (bout.go): meals, evenings, batches of bottles, each at some pace, for some time. Beside them stand lumps: what is
// drawn at once, within one step of half an hour. Both are counted from the household's own past, by the clock. Where little was
// counted yet, the prior speaks; it is wide, and its shapes come from homes whose water was metered. A mass or a pace never seen is as likely
// as its distance, in octaves, from those seen allows.
package demand

import "math"

// Classes of use in one step: 0 is nothing, class k is the octave around Size(k).
const Classes = 12

// smallest is the middle of the lowest octave, g: less than a glass takes (a litre holds some 6 g at most drinks' strength).
const smallest = 3.0

// Size is the middle of class k, g.
func Size(k int) float64 {
	if k == 0 {
		return 0
	}
	return smallest * float64(uint(1)<<(k-1))
}

// Spread is the standard deviation of a mass within class k, g: that of an even spread over the logarithms of an octave,
// 0.2 of its middle.
func Spread(k int) float64 { return 0.2 * Size(k) }

// Law is how probable each class is.
type Law [Classes]float64

const (
	slots = 12 // of two hours, through the day

	// Of the hours of homes 0.2 to 0.6 draw; beyond what is usual for the home each octave is rarer by 0.05 to 0.5
	// (water_meter_house*.csv, bout_test.go).
	starts = 0.3
	rarer  = 0.1 // an octave away

	priorSteps = 6.0 // steps that the prior counts for, in each habit
	memory     = 4000.0
)

// Model is the household's way of drawing. Use New.
type Model struct {
	clock [slots]counts
	all   counts
	bouts bouts
	week  [7]weekdays
}

// counts is how often each class came.
type counts struct {
	n  float64
	of Law // seen, spread over the neighbouring octaves
}

// New is a model that has seen nothing.
func New() *Model { return &Model{} }

// prior is the law of a step before anything is known. Masses decline by half an octave from the second on: the household may be large.
var prior = func() (l Law) {
	sum := 0.0
	for k := 1; k < Classes; k++ {
		l[k] = math.Pow(0.5, math.Abs(float64(k-2)))
		sum += l[k]
	}
	for k := 1; k < Classes; k++ {
		l[k] *= starts / sum
	}
	l[0] = 1 - starts
	return l
}()

// near is how a mass of class i counts for class j.
var near = func() (n [Classes]Law) {
	n[0][0] = 1
	for i := 1; i < Classes; i++ {
		sum := 0.0
		for j := 1; j < Classes; j++ {
			n[i][j] = math.Pow(rarer, math.Abs(float64(i-j)))
			sum += n[i][j]
		}
		for j := 1; j < Classes; j++ {
			n[i][j] /= sum
		}
	}
	return n
}()

// add counts a step of law l with weight w.
func (c *counts) add(l *Law, w float64) {
	for i, p := range l {
		if p < 1e-6 {
			continue
		}
		for j := range c.of {
			c.of[j] += w * p * near[i][j]
		}
	}
	c.n += w
	if c.n > memory {
		keep := memory / c.n
		for j := range c.of {
			c.of[j] *= keep
		}
		c.n = memory
	}
}

// mix adds w times the predictive law of the counts over base, of which the prior counts for priorSteps, to l.
func (c *counts) mix(l *Law, base *Law, w float64) {
	w /= c.n + priorSteps
	for j := range l {
		l[j] += w * (c.of[j] + priorSteps*base[j])
	}
}

// slot is the slot of the clock at hour of the week.
func slot(hour float64) int { return max(int(hour*slots/24), 0) % slots }

// Lump is the law of what a single step that ends at hour of the week, 0 to 168, draws, beside bouts.
func (m *Model) Lump(hour float64) (l Law) {
	var usual Law
	m.all.mix(&usual, &prior, 1)
	m.clock[slot(hour)].mix(&l, &usual, 1)
	busy := m.week[weekday(hour)].busy()
	busy = math.Min(busy, mostBusy/math.Max(1-l[0], 1e-9))
	if busy > 1 {
		l.scale(busy)
	}
	return l
}

// mostBusy is the largest share of the steps of a weekday that is expected to draw.
const mostBusy = 0.9

// scale makes drawing so many times as likely.
func (l *Law) scale(busy float64) {
	l[0] = 1
	for k := 1; k < Classes; k++ {
		l[k] *= busy
		l[0] -= l[k]
	}
}

// Learn counts a step of law now that ended at hour, weight times.
func (m *Model) Learn(hour float64, now *Law, weight float64) {
	m.clock[slot(hour)].add(now, weight)
	m.all.add(now, weight)
}

// Stretch makes a law of one step that of so many steps, 1 or more: nothing in any of them, or as much more as they are
// more often busy.
func (l *Law) Stretch(steps float64) {
	if steps < 1.5 {
		return
	}
	idle := math.Pow(l[0], steps)
	busy := steps * (1 - l[0]) / (1 - idle) // busy steps, given one
	up := int(math.Round(math.Log2(math.Max(busy, 1))))
	var out Law
	for k := 1; k < Classes; k++ {
		out[min(k+up, Classes-1)] += l[k] * (1 - idle) / (1 - l[0])
	}
	out[0] = idle
	*l = out
}

// Quieten makes a law that of a time when nobody should draw: they are away, or the valve is said to be shut. One step in fifty may
// draw all the same.
func (l *Law) Quieten() {
	for k := 1; k < Classes; k++ {
		l[k] *= 0.02
	}
	l[0] += 0.98 * (1 - l[0])
}

// Blur counts what is too little to be seen beside a scatter of sd g as nothing.
func (l *Law) Blur(sd float64) {
	for k := 1; k < Classes && Size(k) < visible*sd; k++ {
		l[0] += l[k]
		l[k] = 0
	}
}

// visible is how many sigma make a mass visible in one step.
const visible = 2.5
