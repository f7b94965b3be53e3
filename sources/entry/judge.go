package entry

import (
	"slices"
)

// How many words of talk may stand around a weight that is clearly one, and how many after one that opens the message.
const (
	strayWords = 2
	afterWords = 3
)

// judge turns findings into a Reading.
func judge(f *findings, ctx *Context) Reading {
	if len(f.masses) == 0 {
		return unreadable(ctx)
	}
	if !ctx.Asked && isTalk(f, ctx) || f.talk {
		return unreadable(ctx)
	}
	f.masses = withoutRepeats(f.masses)
	if len(f.masses) > 1 {
		return several(f, ctx)
	}
	return one(f, ctx)
}

// isTalk reports whether the words around the weights make the message talk.
func isTalk(f *findings, ctx *Context) bool {
	if f.opens(ctx) {
		return false
	}
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

// opens reports that the message begins with what can only be the cylinder, as read off a scale: "24.6 kg, Bo was here".
func (f *findings) opens(ctx *Context) bool {
	m := f.masses[0]
	if len(f.masses) > 1 || !f.first || m.unit == noUnit || m.amount.integer || f.talk || f.question || f.guess || f.unknown > afterWords {
		return false
	}
	u, ok := f.bestOf(m, ctx)
	return ok && !u.Net && cylinderOf(u, ctx).Full > 0
}

// withoutRepeats drops weights that say the first one again, as it stands or in another unit: "61.4 kg (135 lb 6 oz)".
func withoutRepeats(ms []mass) []mass {
	out := ms[:1]
	for _, m := range ms[1:] {
		if !m.repeats(out[0]) {
			out = append(out, m)
		}
	}
	return out
}

func (m mass) repeats(first mass) bool {
	if m.unit == first.unit || m.unit == noUnit || first.unit == noUnit {
		return m.amount == first.amount && m.negative == first.negative
	}
	a, b := float64(grams(first.amount.v, first.unit)), float64(grams(m.amount.v, m.unit))
	return abs(a-b) <= 0.005*a
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
	switch {
	case !sure:
		return NotAWeight{}
	case f.when.twice:
		return Doubtful{TwoWeights, "I read more than one weight and more than one time. Could you send them one by one?", nil}
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
	case f.unknown > 0 && !ctx.Asked && len(f.names) == 0: // "Ida weighs 62 kg"
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
	case f.unknown > 0 && f.unmarked() && len(f.strange) > 0:
		return Doubtful{Unsure, askStrange(u, f.strange, ctx), []Understood{u}}
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
