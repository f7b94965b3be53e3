package entry

import (
	"slices"
	"time"

	"tarebell/forecast/unit"
)

// bestOf is the likeliest reading of m, and whether it is plausible.
func (f *findings) bestOf(m mass, at time.Time, ctx *Context) (Understood, bool) {
	all := f.readings(m, at, false, ctx)
	if fit := fitting(all, ctx); len(fit) > 0 {
		return fit[0], true
	}
	return all[0], false
}

// readings is what m, weighed at that time, may mean for each cylinder it may belong to: as written or, if other is set, in other
// units and with net and gross exchanged. As written, only one reading of an ambiguous number is kept for
// each cylinder.
func (f *findings) readings(m mass, at time.Time, other bool, ctx *Context) []Understood {
	var out []Understood
	net := f.isNet(m)
	for _, c := range f.cylinders(m, ctx) {
		if other {
			out = append(out, otherReadings(m, net, c, ctx)...)
		} else {
			out = append(out, asWritten(m, net, c, ctx))
		}
	}
	for i := range out {
		out[i].At = at
	}
	return out
}

func asWritten(m mass, net bool, c *Cylinder, ctx *Context) Understood {
	u := m.unit
	if u == noUnit {
		u = household(ctx)
	}
	decimal := Understood{Gross: grams(m.amount.v, u), Net: net, Cylinder: c.Name, Unit: told(u)}
	if m.amount.thousands == 0 {
		return decimal
	}
	whole := decimal
	whole.Gross = grams(m.amount.thousands, u)
	if fits := c.fits(whole); fits && !c.fits(decimal) || fits == c.fits(decimal) && u == Grams {
		return whole
	}
	return decimal
}

// told is the unit that one is said back in.
func told(u Unit) Unit {
	if u == ounces {
		return PoundsOunces
	}
	return u
}

// otherReadings are first net for gross or the reverse, then other units.
func otherReadings(m mass, net bool, c *Cylinder, ctx *Context) []Understood {
	flipped := asWritten(m, !net, c, ctx)
	var out []Understood
	for _, u := range []Unit{Kilograms, Pounds, Grams} {
		if u == m.unit || u == flipped.Unit && m.unit == noUnit || u == Grams && m.unit != noUnit {
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
	if ctx.Units == unit.US {
		return Pounds
	}
	return Kilograms
}

// isNet reports whether the mark nearest to m says net.
func (f *findings) isNet(m mass) bool {
	h, ok := nearest(f.marks, m.at)
	return ok && h.text != string(isGross)
}

// cylinders are those m may belong to.
func (f *findings) cylinders(m mass, ctx *Context) []*Cylinder {
	if len(f.masses) == 1 && distinct(f.names) > 1 {
		return named(f.names, ctx)
	}
	if h, ok := nearest(f.names, m.at); ok {
		return named([]hit{h}, ctx)
	}
	var out []*Cylinder
	for i := range ctx.Cylinders {
		if !ctx.Cylinders[i].Spare {
			out = append(out, &ctx.Cylinders[i])
		}
	}
	if len(out) == 0 {
		return []*Cylinder{{}}
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
