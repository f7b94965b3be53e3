package entry

import (
	"slices"
	"strings"
)

// mass is one weight in a message, or a number that could be one.
type mass struct {
	at       int // token
	amount   amount
	unit     Unit // noUnit: none given
	negative bool
	denied   bool // after "not"
	dotted   bool // with a point after it, as in a date
	clockish bool // 21.30
	dated    bool // "le 21", "the 21"
	cents    bool // with two decimals, as a price has
}

// mass takes a weight: a number with or without unit, "135 lb 6 oz", "12 1/2 lb", "kg: 61.4".
func (r *reader) mass() bool {
	start := r.i
	if r.temperature() {
		return true
	}
	before := r.unitBefore()
	neg := r.is(0, "-") && r.digitsAt(1) && r.toks[r.i+1].glued && (!r.toks[r.i].glued || r.is(-1, ":") || r.is(-1, "="))
	if neg {
		r.i++
	}
	spoken := !r.digitsAt(0)
	a, ok := r.amount()
	if !ok {
		r.i = start
		return false
	}
	m := mass{at: start, amount: a, unit: before, negative: neg, denied: r.denied}
	if u, has := r.unit(); has && (before == noUnit || before == u) {
		m.unit = u
		r.smaller(&m)
	} else if before == noUnit {
		r.stones(&m)
	}
	if spoken && m.unit == noUnit && a.integer { // "two"
		r.i = start
		return false
	}
	if r.otherThanMass(start) {
		r.others++
		return true
	}
	m.dotted = r.isGlued(0, ".") && m.unit == noUnit
	_, m.clockish = loneClock(r.word(-1))
	m.clockish = m.clockish && strings.Contains(r.word(-1), ".")
	m.cents = len(r.word(-1)) > 3 && strings.ContainsAny(r.word(-1)[len(r.word(-1))-3:][:1], ".,")
	if start > 0 {
		_, on := lexicon[r.toks[start-1].text][isOn]
		m.dated = on && a.integer && a.v <= 31
	}
	if spoken {
		r.heard[isGuess] = true
	}
	r.denied = false
	r.masses = append(r.masses, m)
	return true
}

// temperature passes "19.8 °C".
func (r *reader) temperature() bool {
	if !r.digitsAt(0) || !r.is(1, "°") {
		return false
	}
	r.i += 2
	if r.isGlued(0, "c") || r.isGlued(0, "f") {
		r.i++
	}
	return true
}

// digitsAt reports a number d tokens on.
func (r *reader) digitsAt(d int) bool {
	i := r.i + d
	return i >= 0 && i < len(r.toks) && r.toks[i].kind == number
}

// unitBefore takes a unit that stands before its number.
func (r *reader) unitBefore() Unit {
	u, n, ok := r.as(0, isUnit)
	if !ok || units[u] == ounces {
		return noUnit
	}
	for r.is(n, ":") || r.is(n, "=") {
		n++
	}
	if !r.digitsAt(n) {
		return noUnit
	}
	r.i += n
	return units[u]
}

// amount takes a number, one with a fraction ("12 1/2"), or a spoken one ("twenty one point eight").
func (r *reader) amount() (amount, bool) {
	if !r.digitsAt(0) {
		n, ok := r.numeral()
		return r.pointed(amount{v: float64(n), integer: true}), ok
	}
	if f, n := r.fraction(); n > 0 {
		r.i += n
		return amount{v: f}, true
	}
	a, ok := readNumber(r.word(0))
	if !ok {
		return a, false
	}
	r.i++
	if n, ok := r.num(0); ok && a.integer && a.v >= 1 && a.v < 1000 && len(r.word(0)) == 3 && r.unitAt(1) == Grams {
		r.i++ // "61 405 g", as the SI brochure (5.4.4) writes thousands
		return amount{v: 1000*a.v + float64(n), integer: true}, true
	}
	if a.integer {
		a = r.pointed(a)
	}
	if f, n := r.fraction(); n > 0 && a.integer {
		r.i += n
		return amount{v: a.v + f}, true
	}
	return a, true
}

// fraction is the proper fraction that comes next, halves to sixteenths, with a unit after it, and its tokens.
func (r *reader) fraction() (v float64, tokens int) {
	d := 0
	if r.isGlued(0, "-") {
		d = 1
	}
	n, ok1 := r.num(d)
	q, ok2 := r.num(d + 2)
	if !ok1 || !ok2 || !r.is(d+1, "/") || n < 1 || n >= q || q != 2 && q != 3 && q != 4 && q != 8 && q != 16 || r.unitAt(d+3) == noUnit {
		return 0, 0
	}
	return float64(n) / float64(q), d + 3
}

// unitAt is the unit d tokens on.
func (r *reader) unitAt(d int) Unit {
	if u, _, ok := r.as(d, isUnit); ok {
		return units[u]
	}
	return noUnit
}

// unit takes the unit after a number, tied to it by nothing but a space or a dash.
func (r *reader) unit() (Unit, bool) {
	d := 0
	if r.isGlued(0, "-") {
		d = 1
	}
	switch u := r.unitAt(d); {
	case r.isGlued(0, "#"):
		r.i++
		return Pounds, true // as in "135#"
	case u != noUnit:
		_, n, _ := r.as(d, isUnit)
		r.i += d + n
		return u, true
	case r.has(0, isSlip) && !r.has(1, isSlip):
		r.skip(isSlip)
		r.heard[isGuess], r.slip = true, true
		return Kilograms, true
	}
	return noUnit, false
}

// smaller takes what follows in a smaller unit: "135 lb 6 oz", "24 kg 850 g".
func (r *reader) smaller(m *mass) {
	below := map[Unit]Unit{Pounds: ounces, Kilograms: Grams}[m.unit]
	start := r.i
	for below != 0 && (r.has(0, isJoint) && !r.is(0, "-") || r.is(0, "&") || r.is(0, ",")) {
		r.i++
	}
	a, ok := r.amount()
	if u, has := r.unit(); !ok || below == 0 || !has || u != below || float64(grams(a.v, u)) >= float64(grams(1, m.unit)) {
		r.i = start
		return
	}
	if m.unit == Pounds {
		m.unit, m.amount = PoundsOunces, amount{v: m.amount.v + a.v/16}
	} else {
		m.amount = amount{v: m.amount.v + a.v/1000}
	}
}

// poundsPerStone is exact: Weights and Measures Act 1985 (United Kingdom), schedule 1; from memory.
const poundsPerStone = 14

// stones takes "9 stone", "9 stone 4", "9 st 4 lb"; "st" alone says nothing in talk: "1st".
func (r *reader) stones(m *mass) {
	start := r.i
	if !r.has(0, isStone) {
		return
	}
	full := len(r.toks[r.i].text) > 2 || r.ctx.Asked
	r.i++
	over, whole := r.i, m.amount.v*poundsPerStone
	rest, ok := r.amount()
	u, has := r.unit()
	switch {
	case ok && rest.v < poundsPerStone && (u == Pounds || full && !has):
		whole += rest.v
	case full:
		r.i = over
	default:
		r.i = start
		return
	}
	m.unit, m.amount = Pounds, amount{v: whole}
}

// otherThanMass takes what makes the number from start on something else: "24x", "61.4 %", "€ 20", "0664", "1e9", "21st".
func (r *reader) otherThanMass(start int) bool {
	first := r.toks[start]
	other := len(first.text) > 1 && first.text[0] == '0' && first.text[1] != '.' && first.text[1] != ','
	if start > 0 {
		_, known := lexicon[r.toks[start-1].text][isOther]
		t := r.toks[start-1]
		glued := first.glued && (t.kind == word || t.text == "/" && start > 1 && r.toks[start-2].kind == number || t.text == "_" || t.text == "@") && !known
		other = other || glued && !r.namedBefore(start) || known && t.kind == sign
	}
	unit := r.i > start+1 && r.toks[r.i-1].kind != number
	if !unit && (r.has(0, isOther) || r.is(0, "=")) {
		other = true
		r.skip(isOther)
	}
	for r.i < len(r.toks) && r.toks[r.i].glued && (r.toks[r.i].kind == word || r.digitsAt(0) && r.toks[r.i-1].kind != sign) {
		other = true // tied to a word: 24x
		r.i++
	}
	return other
}

// namedBefore reports a cylinder's name that ends right before token i.
func (r *reader) namedBefore(i int) bool {
	return slices.ContainsFunc(r.findings.names, func(h hit) bool { return h.end == i })
}
