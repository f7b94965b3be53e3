// Package signal turns raw gross readings into vetted ones: what stands on the platform, seen through
// spikes, things put down beside the cylinder, lift-offs and re-zeroing. It works reading by reading, in
// constant memory.
package signal

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Options says what the platform carries when nothing is odd.
type Options struct {
	House   unit.Grams // tare and fittings: gross of an empty cylinder
	NetFill unit.Grams // net gas of a nominal fill
}

// Reading is one raw reading.
type Reading struct {
	At      time.Time
	Gross   unit.Grams
	Temp    unit.Celsius
	HasTemp bool
	Manual  bool
}

// Vetted is a reading believed to be about the cylinder, with everything else taken out.
type Vetted struct {
	At     time.Time
	Gross  unit.Grams
	SD     unit.Grams // of this reading
	StepSD unit.Grams // how uncertain the step is that was taken out just before it; mostly 0
	Manual bool
}

// Kind is what was recognised.
type Kind int

// The kinds.
const (
	Lifted Kind = iota
	Returned
	ObjectOn
	ObjectOff
	Step
	Fill
	Stuck
	TemperatureDrift
	WrongUnit
	Implausible
)

// Found is one thing recognised.
type Found struct {
	Kind  Kind
	Since time.Time
	Mass  unit.Grams
	SD    unit.Grams
	Gross unit.Grams
}

// Outcome is what one reading led to. The slices are valid until the next call.
type Outcome struct {
	Vetted   []Vetted
	Found    []Found
	Doubtful bool
}

// Filter vets readings. The zero value is not usable; use New.
type Filter struct {
	opt     Options
	level   float64
	sd      float64
	n       int
	offset  float64 // taken out of every reading
	pend    [4]Reading
	np      int
	off     bool
	object  float64 // mass of what stands beside the cylinder; 0 nothing
	stepSD  float64
	vetted  []Vetted
	found   []Found
	lastRaw float64
}

// New starts a filter that has seen nothing.
func New(o Options) *Filter {
	return &Filter{opt: o, sd: 25, vetted: make([]Vetted, 0, 8), found: make([]Found, 0, 8)}
}

// Next vets one reading.
func (f *Filter) Next(r Reading) Outcome {
	f.vetted, f.found = f.vetted[:0], f.found[:0]
	f.step(r)
	return Outcome{f.vetted, f.found, f.np > 0}
}

func (f *Filter) step(r Reading) {
	x := float64(r.Gross)
	if r.Manual {
		f.vetted = append(f.vetted, Vetted{At: r.At, Gross: r.Gross, SD: 150, Manual: true})
		return
	}
	if f.n == 0 {
		f.level = x
	}
	e := x - f.offset - f.level
	if math.Abs(e) > math.Max(6*f.sd, 60) {
		f.doubt(r)
		return
	}
	f.np = 0
	f.accept(r)
}

func (f *Filter) accept(r Reading) {
	x := float64(r.Gross) - f.offset
	e := x - f.level
	f.n++
	f.level += e * math.Max(0.15, 1/float64(f.n))
	f.sd += (math.Min(math.Abs(e), 4*f.sd)*1.25 - f.sd) * 0.02
	f.sd = math.Max(f.sd, 1)
	f.vetted = append(f.vetted, Vetted{At: r.At, Gross: unit.Grams(x), SD: unit.Grams(f.sd), StepSD: unit.Grams(f.stepSD)})
	f.stepSD = 0
}

func (f *Filter) doubt(r Reading) {
	if f.np == len(f.pend) {
		copy(f.pend[:], f.pend[1:])
		f.np--
	}
	f.pend[f.np] = r
	f.np++
	if f.np < 3 {
		return
	}
	p := f.pend[f.np-3 : f.np]
	a, b, c := float64(p[0].Gross), float64(p[1].Gross), float64(p[2].Gross)
	gate := math.Max(6*f.sd, 60)
	falling := a > b && b > c && f.level+f.offset-a > 0 && b-c < 3000
	if falling && b-c > f.sd {
		f.np = 0
		f.level = c - f.offset
		for _, q := range p {
			f.vetted = append(f.vetted, Vetted{At: q.At, Gross: q.Gross - unit.Grams(f.offset), SD: unit.Grams(f.sd)})
		}
		return
	}
	if math.Abs(a-b) > gate || math.Abs(b-c) > gate {
		return
	}
	m := (a + b + c) / 3
	d := m - f.offset - f.level
	since := p[0].At
	f.np = 0
	if m < float64(f.opt.House)*0.5 {
		if !f.off {
			f.off = true
			f.found = append(f.found, Found{Kind: Lifted, Since: since, Gross: r.Gross})
		}
		return
	}
	if f.off {
		f.off = false
		f.found = append(f.found, Found{Kind: Returned, Since: since, Mass: unit.Grams(d), Gross: r.Gross})
	}
	if d > 0.4*float64(f.opt.NetFill) && m-f.offset < float64(f.opt.House+f.opt.NetFill)*1.1 {
		f.found = append(f.found, Found{Kind: Fill, Since: since, Mass: unit.Grams(d), Gross: r.Gross})
		f.level += d
		f.accept(r)
		return
	}
	k := Step
	if d > 0 {
		k = ObjectOn
		f.object = d
	} else if math.Abs(d+f.object) < gate {
		k = ObjectOff
		f.object = 0
	}
	f.found = append(f.found, Found{Kind: k, Since: since, Mass: unit.Grams(d), Gross: r.Gross})
	f.offset += d
	f.stepSD = f.sd
	f.accept(r)
}
