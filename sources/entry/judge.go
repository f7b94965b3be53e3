package entry

import (
	"slices"

	"tarebell/forecast/unit/record"
)

// judge turns findings into a Reading.
func judge(f *findings, ctx *Context) Reading {
	masses := f.relevant(ctx)
	if !ctx.Asked || len(masses) > 0 {
		f.others += len(f.masses) - len(masses)
		f.masses = masses
	}
	switch {
	case len(f.masses) == 0 && !ctx.Asked:
		return f.state()
	case len(f.masses) == 0:
		return unreadable(ctx)
	case len(f.masses) > 1:
		return several(f, ctx)
	}
	return one(f, ctx)
}

// several asks which of two or more weights is meant.
func several(f *findings, ctx *Context) Reading {
	at := f.when.resolve(ctx.Now).times[0]
	var all []Understood
	for _, m := range f.masses {
		best, _ := f.bestOf(m, at, ctx)
		all = append(all, best)
	}
	if f.when.twice {
		return Doubtful{TwoWeights, "I read more than one weight and more than one time. Could you send them one by one?", nil}
	}
	return Doubtful{TwoWeights, askWhich(all, ctx), all}
}

// one judges the only weight of a message.
func one(f *findings, ctx *Context) Reading {
	m := f.masses[0]
	when := f.when.resolve(ctx.Now)
	likely := f.readings(m, when.times[0], false, ctx)
	fit := fitting(likely, ctx)
	switch {
	case m.negative:
		return Doubtful{Negative, "A weight cannot be below zero. Did you mean " + likely[0].mass() + "?", likely[:1]}
	case len(fit) == 0:
		return f.misfit(m, likely, ctx)
	case len(fit) > 1:
		return Doubtful{WhichCylinder, askCylinder(fit), fit}
	case when.reason != "":
		return doubtfulTime(fit[0], when, ctx)
	}
	return f.compare(fit[0], m, ctx)
}

// misfit looks for what an implausible weight may have meant.
func (f *findings) misfit(m mass, likely []Understood, ctx *Context) Reading {
	fit := fitting(f.readings(m, likely[0].At, true, ctx), ctx)
	if m.amount.integer && m.unit == noUnit || m.amount.v == 0 { // a bare "7" is no net weight
		fit = slices.DeleteFunc(fit, func(u Understood) bool { return u.Net != likely[0].Net })
	}
	switch {
	case len(fit) == 0 && !ctx.Asked && m.unit == noUnit && !f.aboutWeighing():
		return NotAWeight{}
	case len(fit) > 0 && fit[0].Net != likely[0].Net:
		return Doubtful{NetOrGross, askNet(fit[0]), withLikely(fit, likely[0])}
	case len(fit) > 0:
		return Doubtful{WrongUnit, "Did you mean " + fit[0].both(ctx.Units) + "?", withLikely(fit, likely[0])}
	}
	return Doubtful{OutOfRange, askRange(likely[0], ctx), likely[:1]}
}

// withLikely adds what was written to what fits, if anything could weigh it.
func withLikely(fit []Understood, u Understood) []Understood {
	if u.Gross <= 0 || u.Gross > mostGross {
		return fit
	}
	return append(fit, u)
}

func doubtfulTime(u Understood, when moment, ctx *Context) Reading {
	var all []Understood
	for _, t := range when.times {
		u.At = t
		all = append(all, u)
	}
	return Doubtful{when.reason, askTime(all, when.reason, ctx), all}
}

// compare judges a plausible weight against the last one, and by the words around it.
func (f *findings) compare(u Understood, m mass, ctx *Context) Reading {
	c := cylinderOf(u, ctx)
	d, known := c.change(u)
	bare := m.unit == noUnit
	switch {
	case known && d > slack:
		return Doubtful{Rise, askRise(u, d, c, ctx), []Understood{u}}
	case known && bare && !f.aboutWeighing() && !ctx.Asked && -d > max(0.25*c.NetFill, 2*slack):
		return Doubtful{Drop, askDrop(u, -d, ctx), []Understood{u}}
	case len(f.unknown) > 0 && len(f.unknown) <= mostUnknown && (!f.heard[isScale] || m.unit != noUnit):
		return Doubtful{Unsure, askUnknown(u, f.unknown, ctx), []Understood{u}}
	case f.doubtful(u, m, c, ctx):
		return Doubtful{Unsure, "Shall I note " + u.said(ctx) + "?", []Understood{u}}
	}
	return u
}

// doubtful reports that a plausible weight may still be something else.
func (f *findings) doubtful(u Understood, m mass, c *Cylinder, ctx *Context) bool {
	left := slices.ContainsFunc(f.marks, func(h hit) bool { return h.text == string(isLeft) })
	switch {
	case f.unclear(), f.question, f.heard[isGuess], f.heard[isFittings] && m.unit == noUnit, f.heard[isFull] || f.heard[isEmpty] || f.heard[isFilled], f.heard[isNew] && (f.heard[isCylinder] || f.heard[isBottle]):
		return true
	case ctx.Asked:
		return false
	case u.Net && left && !f.netMarked():
		return !f.heard[isCylinder] || m.unit == noUnit
	case m.unit != noUnit:
		return false
	case m.dotted, f.heard[isBottle], f.when.hasDate && !f.when.hasClock && m.clockish: // "today 21.30"
		return true
	case m.amount.integer, m.cents && !f.aboutWeighing() && !ctx.Correcting:
		d, known := c.change(u)
		alone := f.words == 0 && !f.when.said() && len(f.names) == 0
		return !alone || !known || d < -max(grams(1, u.Unit), 0.1*c.NetFill)
	}
	return f.fills > 0 && !f.aboutWeighing() && !ctx.Correcting
}

// fitting are those of us that can be weights of their cylinders.
func fitting(us []Understood, ctx *Context) []Understood {
	return slices.DeleteFunc(slices.Clone(us), func(u Understood) bool { return !cylinderOf(u, ctx).fits(u) })
}

func cylinderOf(u Understood, ctx *Context) *Cylinder {
	if i := slices.IndexFunc(ctx.Cylinders, func(c Cylinder) bool { return c.Name == u.Cylinder }); i >= 0 {
		return &ctx.Cylinders[i]
	}
	return &Cylinder{Cylinder: record.Cylinder{Name: u.Cylinder}}
}
