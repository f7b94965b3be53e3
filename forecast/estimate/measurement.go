package estimate

import "math"

// A reading is right, or a slip, or right about a cylinder that all was believed wrongly of:
//
//	right    y = M + o + noise
//	slip     y says nothing: another unit, a digit, a point, something else on the scale; anything up to twice a full cylinder's gross
//	astray   M is anything between nothing and full: gas went or came unseen, the cylinder is another one; but where an automatic scale
//	         rises, its zero has moved, and may go back within days: a fill is seen or told, and gas does not come back
//
// Each hypothesis of the mixture weighs the three and goes on with the mixture of the three merged into one Gaussian, so that one odd reading makes the gas uncertain, and the next
// one says which it was.
type measurement struct {
	y, r         float64 // net of house, g; variance of the noise
	slip, astray float64 // prior probabilities
	full, gross  float64 // g, of gas and in all
	off          float64 // prior probability that the zero is off, if more is read than a full cylinder weighs
	open         bool    // that the cylinder is astray is no surprise: nobody has said what is in it
	back         bool    // the zero rose lately: a fall may be its going back
}

// slipShare is how many typed numbers are not what was read: 260 of 6930 in Mays & Mathias, Measuring the rate of manual transcription error in outpatient
// point-of-care testing, JAMIA 26 (2019) 269-272.
const slipShare = 260.0 / 6930

// astrayPerYear is how often a year what is believed of the gas is thought to go wrong unseen. No source.
const astrayPerYear = 1

// unseen is how many times less likely gas goes unseen where a scale answers from one quarter of a day to the next: what it shows to go is use or a loss. No source.
const unseen, seenDays = 0.01, 0.3

// studentScale is student12 over the density it is proportional to: √(12π)·Γ(6)/Γ(13/2).
const studentScale = 2.5593

// update conditions on a reading and returns its likelihood, and of it what speaks for the reading being right.
func (g *gauss) update(s measurement) (l, right float64) {
	e := s.y - g.m - g.o
	p := g.mm + 2*g.mo + g.oo
	if over := s.y - g.o - s.full; s.off > 0 && over*over > 9*(g.oo+s.r) && over > 0 && over < zeroMost*zeroShare*s.gross {
		return g.above(s)
	}
	if e*e < 9*(p+s.r) { // the others come to less than a hundredth
		l = g.observe(s.y, s.r)
		return l, l
	}
	const wide = 1.0 / 12
	before, anew := *g, *g
	right = (1 - s.slip - s.astray) * g.observe(s.y, s.r)
	slip := s.slip * studentScale / (2 * s.gross)
	astray := 0.0
	if !s.open && (e > 0 && s.off > 0 || e < 0 && s.back) {
		moved := s.astray
		if e < 0 {
			moved = goesBack
		}
		anew.oo += math.Pow(zeroShare*s.gross, 2)
		astray = moved * anew.observe(s.y, s.r)
	} else if net := s.y - g.o; net > -3*math.Sqrt(p+s.r) && net < s.full+3*math.Sqrt(p+s.r) {
		anew.m, anew.mm = s.full/2, wide*s.full*s.full
		anew.mo, anew.mu, anew.mx, anew.mk = 0, 0, 0, 0
		astray = s.astray * studentScale / s.full
		c := covariances{anew.mm, g.oo, g.ou, g.ox, g.ok}
		anew.condition(c, anew.mm+g.oo+s.r, s.y-anew.m-anew.o)
	}
	l = right + slip + astray
	was := slip / (slip + astray)
	other := merge(was, &before, 1-was, &anew)
	*g = merge(right/l, g, 1-right/l, &other)
	g.tidy()
	if s.open {
		right += astray
	}
	return l, right
}

// above conditions on a reading of more than a full cylinder weighs: it is a slip, or the zero is off, by a wrong tare or by something that stood on the
// scale before. However much a household draws, that does not explain it.
func (g *gauss) above(s measurement) (l, right float64) {
	before := *g
	g.oo += math.Pow(zeroShare*s.gross, 2)
	right = s.off * g.observe(s.y, s.r)
	slip := s.slip * studentScale / (2 * s.gross)
	l = right + slip
	*g = merge(right/l, g, slip/l, &before)
	g.tidy()
	return l, right
}

// goesBack is the prior probability that a fall too large for use, within backDays of a rise, takes the rise back: something stood there. No source.
const goesBack, backDays = 0.5, 2

// zeroOff is the probability that a reading above a full cylinder means that the zero is off, and zeroShare by how much of the gross mass, one standard deviation. No
// source: a regulator that was forgotten weighs a kilogram. What is more than zeroMost standard deviations is no zero.
const zeroOff, zeroShare, zeroMost = 0.01, 0.05, 3

// ranDry conditions on the net gas being the heel, with variance r, and returns the likelihood. Gas that went unseen says nothing about use.
func (g *gauss) ranDry(heel, r, astray, full float64) float64 {
	e, s := heel-g.m, g.mm+r
	used := (1 - astray) * student12(e*e/s, s)
	gone := astray * studentScale / full
	anew := *g
	anew.m, anew.mm, anew.mo, anew.mu, anew.mx, anew.mk = heel, r, 0, 0, 0, 0
	g.condition(covariances{g.mm, g.mo, g.mu, g.mx, g.mk}, max(s, e*e/9), e)
	l := used + gone
	*g = merge(used/l, g, 1-used/l, &anew)
	g.tidy()
	return l
}
