package entry

import (
	"slices"
)

// strayWords is how many words of talk may stand around a weight that is clearly one.
const strayWords = 2

// judge turns findings into a Reading.
func judge(f *findings, ctx *Context) Reading {
	if len(f.masses) == 0 {
		return unreadable(ctx)
	}
	if !ctx.Asked && isTalk(f) || f.talk {
		return unreadable(ctx)
	}
	f.masses = withoutRepeats(f.masses)
	if len(f.masses) > 1 {
		return several(f, ctx)
	}
	return one(f, ctx)
}

// isTalk reports whether the words around the weights make the message talk.
func isTalk(f *findings) bool {
	bare := !slices.ContainsFunc(f.masses, func(m mass) bool { return m.unit != noUnit })
	clear := (f.anchored || len(f.names) > 0) && !bare && len(f.masses) == 1 && !f.question
	switch {
	case f.talk, f.unknown > 0 && !clear, f.unknown > strayWords:
		return true
	case bare && f.question:
		return true
	}
	return false
}

// withoutRepeats drops weights that say the same in another unit: "61.4 kg (135 lb 6 oz)".
func withoutRepeats(ms []mass) []mass {
	out := ms[:1]
	for _, m := range ms[1:] {
		a, b := float64(grams(out[0].amount.v, out[0].unit)), float64(grams(m.amount.v, m.unit))
		if m.unit == out[0].unit || m.unit == noUnit || out[0].unit == noUnit || abs(a-b) > 0.005*a {
			out = append(out, m)
		}
	}
	return out
}

func abs(x float64) float64 { return max(x, -x) }

// several asks which of two or more weights is meant. Numbers alone that cannot be weights are talk.
func several(f *findings, ctx *Context) Reading {
	at := f.when.resolve(ctx.Now).times[0]
	var all []Understood
	sure := f.anchored || ctx.Asked || len(f.names) > 0
	for _, m := range f.masses {
		best, ok := f.bestOf(m, ctx)
		best.At = at
		all = append(all, best)
		sure = sure || m.unit != noUnit || ok && (f.words == 0 || !m.amount.integer)
	}
	if !sure {
		return NotAWeight{}
	}
	return Doubtful{TwoWeights, askWhich(all, ctx), all}
}

// one judges the only weight of a message.
func one(f *findings, ctx *Context) Reading {
	m := f.masses[0]
	when := f.when.resolve(ctx.Now)
	likely := f.readings(m, ctx, false)
	for i := range likely {
		likely[i].At = when.times[0]
	}
	fit := fitting(likely, ctx)
	switch {
	case m.negative:
		return f.negative(likely, ctx)
	case len(fit) == 0:
		return f.odd(m, likely, when, ctx)
	case len(fit) > 1:
		return Doubtful{WhichCylinder, askCylinder(fit), fit}
	case when.reason != "":
		return doubtfulTime(fit[0], when, ctx)
	}
	return f.compare(fit[0], m, ctx)
}

func (f *findings) negative(likely []Understood, ctx *Context) Reading {
	if f.masses[0].unit == noUnit && !f.anchored && !ctx.Asked && len(fitting(likely, ctx)) == 0 {
		return NotAWeight{}
	}
	return Doubtful{Negative, "A weight cannot be below zero. Did you mean " + likely[0].mass() + "?", likely[:1]}
}

// odd looks for what an implausible weight may have meant.
func (f *findings) odd(m mass, likely []Understood, when moment, ctx *Context) Reading {
	others := f.readings(m, ctx, true)
	for i := range others {
		others[i].At = when.times[0]
	}
	fit := fitting(others, ctx)
	stray := !ctx.Asked && f.unmarked() && (m.unit == noUnit || trifle(m, likely[0], ctx))
	if m.amount.integer && m.unit == noUnit || m.amount.v == 0 || stray && m.unit != noUnit { // a bare "7" is no net weight
		fit = slices.DeleteFunc(fit, func(u Understood) bool { return u.Net != likely[0].Net })
	}
	switch {
	case m.unit == noUnit && f.words > 0 && !f.anchored && !ctx.Asked && len(f.names) == 0:
		return NotAWeight{}
	case stray && len(fit) == 0:
		return NotAWeight{}
	case len(fit) > 0 && fit[0].Net != likely[0].Net:
		return Doubtful{NetOrGross, askNet(fit[0]), withLikely(fit, likely[0])}
	case len(fit) > 0:
		return Doubtful{WrongUnit, "Did you mean " + fit[0].both(ctx.Units) + "?", withLikely(fit, likely[0])}
	}
	return Doubtful{OutOfRange, askRange(likely[0], ctx), likely[:1]}
}

func (f *findings) unmarked() bool { return !f.anchored && len(f.names) == 0 }

// withLikely adds what was written to what fits, if anything could weigh it.
func withLikely(fit []Understood, u Understood) []Understood {
	if u.Gross <= 0 || u.Gross > mostGross {
		return fit
	}
	return append(fit, u)
}

// trifle reports a weight in grams or ounces that is nowhere near a cylinder: "500 g".
func trifle(m mass, u Understood, ctx *Context) bool {
	return (m.unit == Grams || m.unit == PoundsOunces) && u.Gross < cylinderOf(u, ctx).Empty/10
}

func doubtfulTime(u Understood, when moment, ctx *Context) Reading {
	var all []Understood
	for _, t := range when.times {
		u.At = t
		all = append(all, u)
	}
	return Doubtful{when.reason, askTime(all, when.reason, ctx), all}
}

// compare judges a plausible weight against the last one.
func (f *findings) compare(u Understood, m mass, ctx *Context) Reading {
	c := cylinderOf(u, ctx)
	d, known := c.change(u)
	bare := m.unit == noUnit && m.amount.integer
	switch {
	case known && d > c.slack():
		return Doubtful{Rise, askRise(u, d, ctx), []Understood{u}}
	case known && bare && f.unmarked() && -d > max(0.25*(c.Full-c.Empty), 2*c.slack()):
		return Doubtful{Drop, askDrop(u, -d, ctx), []Understood{u}}
	case f.question, f.guess, f.unknown > 0, bare && f.unmarked() && (f.when.hasDate || f.when.hasPart || f.when.hasClock):
		return Doubtful{Unsure, "Shall I note " + u.said(ctx) + "?", []Understood{u}}
	}
	return u
}

// fitting are those of us that can be weights of their cylinders.
func fitting(us []Understood, ctx *Context) []Understood {
	var out []Understood
	for _, u := range us {
		c := cylinderOf(u, ctx)
		if c.fits(u) {
			out = append(out, u)
		}
	}
	return out
}

func cylinderOf(u Understood, ctx *Context) *Cylinder {
	for i := range ctx.Cylinders {
		if ctx.Cylinders[i].Name == u.Cylinder {
			return &ctx.Cylinders[i]
		}
	}
	return &Cylinder{Name: u.Cylinder}
}

// bestOf is the likeliest reading of m, and whether it is plausible.
func (f *findings) bestOf(m mass, ctx *Context) (Understood, bool) {
	all := f.readings(m, ctx, false)
	if fit := fitting(all, ctx); len(fit) > 0 {
		return fit[0], true
	}
	return all[0], false
}

// readings is what m may mean for each cylinder it may belong to: as written or, if other is set, in other
// units and with net and gross exchanged. As written, only one reading of an ambiguous number is kept for
// each cylinder.
func (f *findings) readings(m mass, ctx *Context, other bool) []Understood {
	var out []Understood
	net := f.isNet(m)
	for _, c := range f.cylinders(m, ctx) {
		if other {
			out = append(out, otherReadings(m, net, c, ctx)...)
		} else {
			out = append(out, asWritten(m, net, c, ctx))
		}
	}
	return out
}

func asWritten(m mass, net bool, c *Cylinder, ctx *Context) Understood {
	u := m.unit
	if u == noUnit {
		u = household(ctx)
	}
	decimal := Understood{Gross: grams(m.amount.v, u), Net: net, Cylinder: c.Name, Unit: u}
	if m.amount.thousands == 0 {
		return decimal
	}
	whole := decimal
	whole.Gross = grams(m.amount.thousands, u)
	if c.fits(whole) != c.fits(decimal) {
		if c.fits(whole) {
			return whole
		}
		return decimal
	}
	if u == Grams {
		return whole
	}
	return decimal
}

// otherReadings are first net for gross or the reverse, then other units.
func otherReadings(m mass, net bool, c *Cylinder, ctx *Context) []Understood {
	flipped := asWritten(m, !net, c, ctx)
	var out []Understood
	for _, u := range []Unit{Kilograms, Pounds, Grams} {
		if u == flipped.Unit || u == Grams && m.unit != noUnit {
			continue
		}
		v := m.amount.v
		if u == Grams {
			v = max(v, m.amount.thousands)
		}
		out = append(out, Understood{Gross: grams(v, u), Net: net, Cylinder: c.Name, Unit: u})
	}
	if m.unit == noUnit {
		return append(out, flipped)
	}
	return append([]Understood{flipped}, out...)
}

// household is the unit of a number without one.
func household(ctx *Context) Unit {
	if ctx.Units == US {
		return Pounds
	}
	return Kilograms
}

// isNet reports whether the mark nearest to m says net.
func (f *findings) isNet(m mass) bool {
	h, ok := nearest(f.marks, m.at)
	return ok && !grossWords[h.text]
}

// cylinders are those m may belong to.
func (f *findings) cylinders(m mass, ctx *Context) []*Cylinder {
	if len(f.masses) == 1 && distinct(f.names) > 1 {
		return named(f.names, ctx)
	}
	if h, ok := nearest(f.names, m.at); ok {
		return named([]hit{h}, ctx)
	}
	if len(ctx.Cylinders) == 0 {
		return []*Cylinder{{}}
	}
	var out []*Cylinder
	for i := range ctx.Cylinders {
		out = append(out, &ctx.Cylinders[i])
	}
	return out
}

func named(hits []hit, ctx *Context) []*Cylinder {
	var out []*Cylinder
	for _, h := range hits {
		if c := cylinderOf(Understood{Cylinder: h.text}, ctx); !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	return out
}

func distinct(hits []hit) int {
	seen := map[string]bool{}
	for _, h := range hits {
		seen[h.text] = true
	}
	return len(seen)
}

// nearest is the hit closest to token at, the one before it on a tie.
func nearest(hits []hit, at int) (best hit, ok bool) {
	for _, h := range hits {
		if !ok || dist(h.at, at) < dist(best.at, at) {
			best, ok = h, true
		}
	}
	return best, ok
}

func dist(a, b int) int { return max(a-b, b-a) }
