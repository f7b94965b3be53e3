package entry

import "slices"

// mostUnknown is how many words outside the lexicon may stand around a lone number that the message says was weighed.
const mostUnknown = 4

// relevant are the masses that may be ours.
func (f *findings) relevant(ctx *Context) []mass {
	units := slices.ContainsFunc(f.masses, func(m mass) bool { return m.unit != noUnit && !f.slip })
	return slices.DeleteFunc(slices.Clone(f.masses), func(m mass) bool {
		if m.unit != noUnit && !f.slip {
			return !f.relevantWithUnit(m, ctx)
		}
		return !f.relevantAlone(m, units, ctx)
	})
}

// relevantWithUnit reports that a mass with its unit may be the cylinder's: as a gross weight in whatever sentence, else only in one without
// strangers.
func (f *findings) relevantWithUnit(m mass, ctx *Context) bool {
	best, fits := f.bestOf(m, ctx.Now, ctx)
	switch {
	case fits && (!best.Net || f.heard[isCylinder]):
		return true
	case f.unclear():
		return false
	}
	return fits || !f.tooLight(m, best, ctx) && (f.fills == 0 || f.anyFit(m, ctx))
}

// relevantAlone reports that a number without unit may be the cylinder's weight: nothing speaks against it, or the message speaks of weighing.
func (f *findings) relevantAlone(m mass, units bool, ctx *Context) bool {
	best, fits := f.bestOf(m, ctx.Now, ctx)
	named := f.heard[isScale] || len(f.names) > 0
	switch {
	case f.heard[isTalk], f.signs, f.slip && f.unclear(), m.dated && !f.heard[isScale]:
		return false
	case len(f.unknown) > 0 || f.others > 0:
		return fits && f.heard[isScale] && len(f.unknown) <= mostUnknown && f.others == 0
	case len(f.masses) > 1:
		return fits && (!m.amount.integer || units || f.heard[isScale])
	case !fits: // it may be in another unit
		return f.words == 0 && (!m.amount.integer || m.amount.v > 1000) || named || f.netMarked()
	case m.amount.integer && (f.question || f.fills > 0 || best.Net): // "we are 21"
		return named
	}
	return true
}

// anyFit reports that m is plausible in some unit, gross or net.
func (f *findings) anyFit(m mass, ctx *Context) bool {
	return len(fitting(append(f.readings(m, ctx.Now, false, ctx), f.readings(m, ctx.Now, true, ctx)...), ctx)) > 0
}

// unclear reports words, numbers or signs beside the masses that are not understood.
func (f *findings) unclear() bool {
	return len(f.unknown) > 0 || f.others > 0 || f.heard[isTalk] || f.signs
}

// aboutWeighing reports that the message speaks of weighing or of a cylinder by name.
func (f *findings) aboutWeighing() bool { return f.heard[isScale] || len(f.names) > 0 || f.netMarked() }

func (f *findings) netMarked() bool {
	return slices.ContainsFunc(f.marks, func(h hit) bool { return h.text != string(isLeft) })
}

// tooLight reports a weight in grams or ounces that is nowhere near a cylinder: "500 g".
func (f *findings) tooLight(m mass, u Understood, ctx *Context) bool {
	return !f.aboutWeighing() && (m.unit == Grams && m.amount.integer || m.unit == ounces) && u.Gross < cylinderOf(u, ctx).Empty()/10
}

// state reports talk that plainly tells how the cylinder stands.
func (f *findings) state() Reading {
	isAny := len(f.names) > 0 || f.heard[isBottle] || f.heard[isCylinder]
	if f.unclear() || f.question || f.denied {
		return NotAWeight{}
	}
	name := ""
	if len(f.names) == 1 {
		name = f.names[0].text
	}
	switch {
	case f.heard[isEmpty] && !f.heard[isFull] && !f.heard[isFilled]:
		return Reported{State: Empty, Cylinder: name}
	case f.heard[isFull] && (f.heard[isAgain] || isAny) && !f.heard[isEmpty], f.heard[isNew] && isAny && f.fills <= 3, f.heard[isFilled] && !f.heard[isEmpty] && (isAny || f.words <= 3):
		return Reported{State: Filled, Cylinder: name}
	}
	return NotAWeight{}
}
