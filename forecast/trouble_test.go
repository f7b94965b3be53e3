package forecast

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// ordeal is an invented household whose scale suffers one trouble after the other, in any order.
type ordeal struct {
	r     *rand.Rand
	c     *Cylinder
	at    time.Time
	every time.Duration
	fill  float64 // g
	tare  float64
	sd    float64 // g, of a sound reading
	use   float64 // g a day
	gas   float64

	noise   float64 // times sd
	drift   float64 // g
	creep   float64 // g a reading
	objects float64 // g
	wild    bool
	off     bool
	typed   bool // all weights are typed
	origin  record.Origin

	begun  float64 // gas when the fill began
	told   float64 // losses told in this fill, g
	losing float64
	story  []string
	fault  string
}

func newOrdeal(seed uint64, typed bool) *ordeal {
	r := rand.New(rand.NewPCG(seed, 11))
	o := &ordeal{r: r, at: time.Date(2026, 2, 3, 7, 0, 0, 0, time.UTC), noise: 1, typed: typed, origin: record.Scale}
	o.fill = []float64{425, 2270, 4540, 10000, 22680}[r.IntN(5)]
	o.every = []time.Duration{10, 30, 60}[r.IntN(3)] * time.Minute
	o.tare = 1.5*o.fill + 500
	o.sd = o.fill * 0.0005 * math.Pow(6, r.Float64())
	o.use = o.fill / 40 * math.Pow(5, -r.Float64())
	if typed {
		o.origin = record.Manual
		o.every = 3 * 24 * time.Hour
	}
	o.gas = o.fill * (0.97 + 0.03*r.Float64())
	o.begun = o.gas
	o.c = New(Options{Tare: unit.Grams(o.tare), NetFill: unit.Grams(o.fill), Seed: seed})
	o.c.Apply(record.Event{At: o.at, Kind: record.Filled, Net: unit.Grams(o.fill)})
	return o
}

func (o *ordeal) tell(format string, a ...any) {
	o.story = append(o.story, fmt.Sprintf("%s %.0f g: ", o.at.Format("01-02 15:04"), o.gas)+fmt.Sprintf(format, a...))
}

// shows is what the scale says.
func (o *ordeal) shows() float64 {
	switch {
	case o.wild:
		return 1.5 * (o.tare + o.fill) * o.r.Float64()
	case o.off:
		return o.objects + o.sd*o.r.NormFloat64()
	}
	return o.tare + o.gas + o.objects + o.drift + o.noise*o.sd*o.r.NormFloat64()
}

// weigh takes a reading and holds what comes out to what can be.
func (o *ordeal) weigh(gross float64) {
	for _, f := range o.c.Apply(record.Event{Kind: record.Weighed, At: o.at, Gross: unit.Grams(gross), Origin: o.origin}) {
		o.tell("found %s %.0f ± %.0f", kindNames[f.Kind], f.Mass, f.MassSD)
		switch f.Kind {
		case AbruptLoss, SlowLoss:
			o.losing = float64(f.Mass)
			o.check(float64(f.Mass) <= 1.1*o.fill, "lost %.0f g of %.0f", f.Mass, o.begun)
		case LossStopped:
			o.told, o.losing = o.told+float64(f.Mass), 0
		case FillSeen:
			o.told, o.losing = 0, 0
		}
	}
	o.check(o.told+o.losing <= 1.1*o.fill, "losses of %.0f g told of one fill", o.told+o.losing)
	s := o.c.est.State(o.at)
	o.check(s.Gas.Mean >= 0 && s.Gas.Mean <= 1.1*o.fill, "%.0f ± %.0f g of gas in %.0f", s.Gas.Mean, s.Gas.SD, o.fill)
}

func (o *ordeal) check(ok bool, format string, a ...any) {
	if !ok && o.fault == "" {
		o.fault = fmt.Sprintf(format, a...)
		o.tell("FAULT %s", o.fault)
	}
}

// live lets n readings' time pass.
func (o *ordeal) live(n int) {
	for range n {
		o.pass(o.every)
		o.weigh(o.shows())
	}
}

// pass lets time pass, and the household draw; a full cylinder comes when the old one is nearly empty.
func (o *ordeal) pass(d time.Duration) {
	for ; d > 0; d -= 10 * time.Minute {
		o.at = o.at.Add(min(d, 10*time.Minute))
		o.drift += o.creep
		if h := o.at.Hour(); h >= 8 && h < 22 && o.r.Float64() < 0.1 && !o.off {
			o.gas = math.Max(o.gas-o.use/8.4*2*o.r.Float64(), 0)
		}
	}
}

func (o *ordeal) days(d float64) int { return max(int(d*24*float64(time.Hour)/float64(o.every)), 1) }

// refill puts gas in while nobody tells.
func (o *ordeal) refill() {
	o.gas = o.fill * (0.97 + 0.03*o.r.Float64())
	o.begun = o.gas
}

var ordeals = []func(o *ordeal){
	func(o *ordeal) {
		o.tell("noise times 20")
		o.noise = 20
		o.live(o.days(1 + 4*o.r.Float64()))
		o.noise = 1
	},
	func(o *ordeal) {
		o.creep = o.fill * 0.0004 * (o.r.Float64() - 0.5)
		o.tell("drift of %.1f g in ten minutes", o.creep)
		o.live(o.days(1 + 2*o.r.Float64()))
		o.creep = 0
		o.tell("snaps back from %.0f", o.drift)
		o.drift = 0
	},
	func(o *ordeal) {
		o.tell("random readings")
		o.wild = true
		o.live(o.days(0.3 + 4*o.r.Float64()))
		o.wild = false
	},
	func(o *ordeal) {
		m := o.fill * (0.05 + 0.5*o.r.Float64())
		o.tell("an object of %.0f g", m)
		o.objects += m
		o.live(o.days(0.5 + 3*o.r.Float64()))
		if o.r.IntN(2) == 0 {
			o.tell("objects off")
			o.objects = 0
		}
	},
	func(o *ordeal) {
		o.tell("lifted, everything of %.0f g off", o.objects)
		o.off = true
		o.live(4)
		o.off, o.objects = false, 0
	},
	func(o *ordeal) {
		o.tell("a long silence")
		for low := o.fill * (0.05 + 0.2*o.r.Float64()); o.gas > low; {
			o.pass(24 * time.Hour)
		}
		o.tell("nearly empty after a silence")
		o.live(o.days(3))
		o.tell("filled, lifted; objects were %.0f", o.objects)
		o.off = o.r.IntN(3) > 0
		o.live(4)
		o.off = false
		o.refill()
		if o.objects = 0; o.r.IntN(2) == 0 {
			o.objects = o.fill * 0.2 * o.r.Float64()
		}
		o.tell("objects are %.0f", o.objects)
		o.live(o.days(4))
	},
	func(o *ordeal) {
		o.tare *= 0.9 + 0.2*o.r.Float64()
		o.refill()
		o.tell("swapped and told")
		o.told, o.losing = 0, 0
		o.c.Apply(record.Event{At: o.at, Kind: record.Filled, Net: unit.Grams(o.fill), Tare: unit.Grams(o.tare)})
	},
	func(o *ordeal) {
		o.tell("silence")
		o.pass(time.Duration(40 * 24 * o.r.Float64() * o.r.Float64() * float64(time.Hour)))
	},
	func(o *ordeal) {
		o.tell("zeros")
		for range o.days(o.r.Float64()) {
			o.pass(o.every)
			o.weigh(0)
		}
	},
	func(o *ordeal) {
		o.tell("pounds")
		for range 1 + o.r.IntN(20) {
			o.pass(o.every)
			o.weigh(o.shows() * unit.GramsPerKilogram / unit.GramsPerPound)
		}
	},
	func(o *ordeal) {
		o.tell("slips")
		for range 1 + o.r.IntN(2) {
			o.pass(o.every)
			o.weigh(o.shows() * []float64{0.1, 10, 0.7, 1.2}[o.r.IntN(4)])
		}
	},
}

// typedOrdeals can befall a household that types: 0 noise, 3 an object, 6 a swap, 7 silence, 8 zeros, 9 pounds, 10 slips.
var typedOrdeals = []int{0, 3, 6, 7, 8, 9, 10}

// suffer plays troubles and then sound readings, and reports what is wrong at the end.
func (o *ordeal) suffer() string {
	o.live(o.days(4 + 6*o.r.Float64()))
	for range 1 + o.r.IntN(5) {
		k := o.r.IntN(len(ordeals))
		if o.typed {
			k = typedOrdeals[o.r.IntN(len(typedOrdeals))]
		}
		if o.gas < 0.15*o.fill && k != 5 {
			k = 6
		}
		ordeals[k](o)
		if o.r.IntN(2) == 0 {
			o.live(o.days(2 * o.r.Float64()))
		}
	}
	o.noise, o.drift, o.objects = 1, 0, 0
	o.tell("sound")
	n := 10
	if o.typed {
		o.every, n = 24*time.Hour, 3
	} else {
		o.every = max(o.every, 30*time.Minute)
	}
	o.live(n)
	s := o.c.est.State(o.at)
	off := math.Abs(s.Gas.Mean - o.gas)
	o.check(off <= math.Max(3*s.Gas.SD, 0.03*o.fill), "%.0f ± %.0f g of gas believed of %.0f, sd %.1f", s.Gas.Mean, s.Gas.SD, o.gas, o.sd)
	return o.fault
}

// astray is the share of the scales' households whose gas may be believed wrongly after ten sound readings: what a drift took away slowly and gave back at
// once, and an object that came with a fill and left, look like an object put on or a platform zeroed anew. It is to become 0: 22 of 150 were wrong when
// this was written.
const astray = 0.2

// TestTroubles: whatever befell the scale, the gas believed can be, and readings that are sound and agree win.
func TestTroubles(t *testing.T) {
	n := uint64(60)
	if testing.Short() {
		n = 20
	}
	for _, typed := range []bool{false, true} {
		wrong := 0
		for seed := range n {
			o := newOrdeal(seed, typed)
			switch fault := o.suffer(); {
			case strings.Contains(fault, "believed of"):
				wrong++
				t.Logf("typed %v, seed %d: %.0f g every %v\n  %s", typed, seed, o.fill, o.every, strings.Join(o.story, "\n  "))
			case fault != "":
				t.Errorf("typed %v, seed %d: %.0f g every %v\n  %s", typed, seed, o.fill, o.every, strings.Join(o.story, "\n  "))
			}
		}
		t.Logf("typed %v: %d of %d households believe wrongly", typed, wrong, n)
		if typed && wrong > 0 || float64(wrong) > astray*float64(n) {
			t.Errorf("typed %v: %d of %d households believe wrongly", typed, wrong, n)
		}
	}
}

// TestErraticDay: for a day a scale shows anything within so many grams, much of it possible; before, the platform of a told fill showed off grams too much.
// After two sound days the gas is what it was, whatever was made of the readings of that day.
func TestErraticDay(t *testing.T) {
	const homes = 20
	for _, off := range []unit.Grams{0, 2900} {
		for _, width := range []float64{300, 1000, 3000, 10_000, 30_000} {
			wrong := 0
			for seed := range uint64(homes) {
				s := newSteady()
				s.r = rand.New(rand.NewPCG(seed, 9))
				c := New(s.opt)
				weigh := func(n int, width float64) {
					for range n {
						w := s.next()
						w.Gross += off + unit.Grams(width*(s.r.Float64()-0.5))
						c.Apply(w)
					}
				}
				s.gas = 15_000
				c.Apply(record.Event{At: s.at, Kind: record.Filled, Net: 15_000})
				weigh(1000, 0)
				weigh(144, width)
				weigh(288, 0)
				if gas := c.Outlook(s.at).Gas; math.Abs(gas.Mean-s.gas) > 3*gas.SD+50 {
					wrong++
				}
			}
			if wrong > homes/5 {
				t.Errorf("within %g g, %g g too much before: the gas is wrong in %d of %d", width, off, wrong, homes)
			}
		}
	}
}
