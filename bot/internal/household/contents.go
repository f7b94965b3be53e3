package household

import (
	"math"
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// contents is the gas in a cylinder, and what it was filled with.
type contents struct {
	nominal  unit.Grams // net gas of a fill
	fittings unit.Grams
	tare     unit.Grams // of the cylinder that stands there now
	fills    []fill     // the present one last
	began    time.Time  // when the present fill came into use; zero: it was not weighed yet
	gas      float64    // net gas when stock was last taken of it, g; NaN unknown
	dryAt    time.Time  // when somebody said that it ran dry; zero: not of this fill
	spareNet unit.Grams // net gas of one that waits; 0 unknown
	full     bool       // one that waits is full
}

// fill is a filling with what was in the cylinder when it began. What it lost is kept in it, what it used only once it is over.
type fill struct {
	notice.Fill
	start  float64            // net gas, g; NaN until it was weighed
	served map[string]float64 // servings logged while it was the present one, by name
	before errand             // where getting it stood when it was seen
}

func newContents(cfg *Cylinder) contents {
	c := contents{nominal: cfg.Forecast.NetFill, fittings: cfg.Forecast.Fittings, tare: cfg.Forecast.Tare, gas: math.NaN(), full: cfg.Spare}
	if cfg.Spare {
		c.spareNet = c.nominal
	}
	return c
}

func newFill(f notice.Fill) fill { return fill{Fill: f, start: math.NaN()} }

// rememberedFills bounds the history of a cylinder: a large one is filled once or twice a year.
const rememberedFills = 60

// newest are the last n of a list.
func newest[T any](list []T, n int) []T { return list[max(0, len(list)-n):] }

// begin starts a new fill and forgets what belonged to the one before.
func (c *contents) begin(f notice.Fill, waits bool) {
	if p := c.last(); p != nil {
		p.Until, p.Used = f.At, c.used()
	}
	c.fills = newest(append(c.fills, newFill(f)), rememberedFills)
	c.began, c.gas, c.dryAt, c.full = f.At, math.NaN(), time.Time{}, waits
}

// withdraw forgets the present fill, which only the scale has told of, and returns where getting it stood. ok is false where people told of it.
func (c *contents) withdraw() (was errand, ok bool) {
	p, n := c.last(), len(c.fills)
	if n < 2 || p.By != "" || p.Receipt > 0 {
		return errand{}, false
	}
	was = p.before
	c.fills = c.fills[:n-1]
	p = c.last()
	p.Until, p.Used = time.Time{}, 0
	c.began, c.gas = p.At, math.NaN()
	return was, true
}

// last is the present fill; nil before the first weighing.
func (c *contents) last() *fill {
	if len(c.fills) == 0 {
		return nil
	}
	return &c.fills[len(c.fills)-1]
}

// net is the gas that a reading shows.
func (c *contents) net(w record.Event) unit.Grams { return w.Gross - c.tare - c.fittings }

// note records the gas of an outlook, and from where the use of the present fill counts.
func (c *contents) note(o forecast.Outlook) {
	p := c.last()
	if !o.Known || p == nil {
		return
	}
	c.gas = o.Gas.Mean
	if math.IsNaN(p.start) && !o.LastSeen.Before(p.At) {
		p.start = o.Gas.Mean
	}
}

// asOf is what note would make of the contents, which stay as they are.
func (c contents) asOf(o forecast.Outlook) contents {
	c.fills = slices.Clone(c.fills)
	c.note(o)
	return c
}

// lose records that gas of the present fill was lost.
func (c *contents) lose(m unit.Grams) {
	if p := c.last(); p != nil {
		p.Lost += m
	}
}

// used is what was drawn of the present fill, NaN unknown.
func (c *contents) used() unit.Grams {
	p := c.last()
	return unit.Grams(math.Max(0, p.start-c.gas-float64(p.Lost)))
}

// mostUsed is the most that was drawn in a day, on average, of a fill before this one; 0: two that lasted two weeks are needed to tell.
func (c *contents) mostUsed() (most unit.GramsPerDay) {
	const fewest, long, shortest = 2, unit.Days(14), unit.Days(2)
	n := 0
	for _, f := range c.fills {
		days := unit.Between(f.At, f.Until)
		if days >= shortest && f.Used > 0 {
			most = max(most, unit.GramsPerDay(float64(f.Used)/float64(days)))
		}
		if days >= long && f.Used > 0 {
			n++
		}
	}
	if n < fewest {
		return 0
	}
	return most
}

// history is the fills, the present one as it stands.
func (c *contents) history() []fill {
	all := slices.Clone(c.fills)
	if n := len(all); n > 0 {
		all[n-1].Used = c.used()
	}
	return all
}

// present is the present fill as it stands.
func (c *contents) present() notice.Fill {
	if all := c.history(); len(all) > 0 {
		return all[len(all)-1].Fill
	}
	return notice.Fill{}
}

// sameFill is within what time a filling told and one seen on the scale are the same, latePrice how long after a filling its price alone may be
// told.
const (
	sameFill  = 4 * 24 * time.Hour
	latePrice = 60 * 24 * time.Hour
)

// Completes reports whether an event tells more of a filling that is known already, by the scale or from somebody, rather
// than of another one: it comes soon after, adds something and contradicts nothing. A price may come late.
func Completes(f notice.Fill, ev record.Event) bool {
	within := sameFill
	if ev.Net == 0 && ev.Tare == 0 {
		within = latePrice
	}
	if f.At.IsZero() || f.First || !f.Until.IsZero() || ev.At.Sub(f.At) >= within {
		return false
	}
	if f.By == "" && f.Receipt == 0 {
		return true
	}
	priced := ev.Price.Known()
	more := ev.Net > 0 && f.Receipt == 0 || ev.Tare > 0 && f.Tare == 0 || priced && !f.Price.Known()
	differs := f.Receipt > 0 && ev.Net > 0 && ev.Net != f.Receipt || f.Tare > 0 && ev.Tare > 0 && ev.Tare != f.Tare ||
		priced && f.Price.Known() && ev.Price != f.Price
	return more && !differs
}

// complete adds to the present fill what somebody told of it.
func (c *contents) complete(ev record.Event) {
	p := c.last()
	p.Receipt, p.Tare = max(p.Receipt, ev.Net), max(p.Tare, ev.Tare)
	if ev.Price.Known() {
		p.Price = ev.Price
	}
	if p.By == "" || ev.Price.Known() {
		p.By = ev.By
	}
	if ev.Tare > 0 {
		c.tare = ev.Tare
	}
}

// mostlyFull is from what share of a nominal fill on a cylinder that waits counts as full; suppliers fill less in the heat (common
// practice, no source).
const mostlyFull = 0.8

// weighWaiting records what a cylinder holds that waits.
func (c *contents) weighWaiting(w record.Event) {
	if net := c.net(w); net > 0 && net < c.nominal*5/4 {
		c.spareNet, c.full = net, net > mostlyFull*c.nominal
	}
}

// fillWaiting records that a cylinder that waits was filled.
func (c *contents) fillWaiting() {
	if c.spareNet = c.last().Receipt; c.spareNet <= 0 {
		c.spareNet = c.nominal
	}
}

// putInUse takes a cylinder that waited into use, and returns what it held.
func (c *contents) putInUse(at time.Time) (net unit.Grams) {
	net = c.spareNet
	c.began, c.gas, c.spareNet, c.full = at, math.NaN(), 0, false
	return net
}

// Of a refill that is awaited, the first typed weight is believed, or what comes onto the scale in the days of the booking, that shows most of a
// fill where little gas was left: shares of a nominal fill. Ours; nobody weighs anything else as heavy at that time.
const (
	mostOfFill = 0.8
	littleLeft = 0.6
	overfull   = 1.15
)

// refilledBy reports that net, which a weight shows, is a refill of a cylinder in which the gas was last believed to be so much.
func (c *contents) refilledBy(net unit.Grams, gas forecast.Normal, known bool) bool {
	empty := !c.dryAt.IsZero() || known && gas.Mean < littleLeft*float64(c.nominal)
	return empty && net >= mostOfFill*c.nominal && net <= overfull*c.nominal
}
