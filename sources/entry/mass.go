package entry

// mass is one weight in a message.
type mass struct {
	at       int // token
	amount   amount
	unit     Unit // noUnit: none given
	negative bool
}

// mass takes a weight: a number with or without unit, "135 lb 6 oz", "12 1/2 lb", "kg: 61.4".
func (r *reader) mass() bool {
	start := r.i
	if r.isGlued(0, "2") && r.is(-1, "co") { // CO2
		return false
	}
	before, skip := r.unitBefore()
	r.i += skip
	neg := r.minus()
	if neg {
		r.i++
	}
	a, ok := r.amount()
	if !ok {
		r.i = start
		return false
	}
	m := mass{at: start, amount: a, unit: before, negative: neg}
	if u, has := r.unit(); has && (before == noUnit || before == u) {
		m.unit = u
		r.smaller(&m)
	}
	if r.tiedToWord() || m.unit == noUnit && r.afterAt(start, m) {
		return r.i > start
	}
	r.masses = append(r.masses, m)
	return true
}

// unitBefore is a unit that stands before its number.
func (r *reader) unitBefore() (Unit, int) {
	u, ok := units[r.word(0)]
	if !ok || u == ounces || u == stones {
		return noUnit, 0
	}
	d := 1
	for r.is(d, ":") || r.is(d, "=") {
		d++
	}
	if i := r.i + d; i < len(r.toks) && r.toks[i].kind == number {
		return u, d
	}
	return noUnit, 0
}

// minus reports a minus sign: a dash tied to the number after it and to nothing before.
func (r *reader) minus() bool {
	return r.is(0, "-") && r.i+1 < len(r.toks) && r.toks[r.i+1].glued && r.toks[r.i+1].kind == number &&
		(!r.toks[r.i].glued || r.is(-1, ":") || r.is(-1, "="))
}

// amount takes a number, or one with a fraction: "12 1/2", "12-1/2", "1/2".
func (r *reader) amount() (amount, bool) {
	if r.i >= len(r.toks) || r.toks[r.i].kind != number {
		return amount{}, false
	}
	if f, ok := r.fraction(0); ok {
		r.i += 3
		return amount{v: f}, true
	}
	a, ok := readNumber(r.word(0))
	if !ok {
		return a, false
	}
	r.i++
	if v, ok := r.spaced(a); ok {
		r.i++
		return v, true
	}
	d := 0
	if r.isGlued(0, "-") {
		d = 1
	}
	if f, has := r.fraction(d); has && a.integer {
		r.i += d + 3
		return amount{v: a.v + f}, true
	}
	return a, true
}

// spaced is a joined with the three digits after it: "61 405 g", as the SI brochure (5.4.4) writes thousands.
func (r *reader) spaced(a amount) (amount, bool) {
	if !a.integer || a.v < 1 || a.v > 999 || len(r.word(0)) != 3 || units[r.word(1)] != Grams {
		return a, false
	}
	n, ok := r.num(0)
	return amount{v: 1000*a.v + float64(n), integer: true}, ok
}

// fraction is the proper fraction d places on, halves to sixteenths, with a unit after it or glued to
// nothing else that would make it a date.
func (r *reader) fraction(d int) (float64, bool) {
	n, ok1 := r.num(d)
	q, ok2 := r.num(d + 2)
	if !ok1 || !ok2 || !r.is(d+1, "/") || n < 1 || n >= q {
		return 0, false
	}
	if q != 2 && q != 3 && q != 4 && q != 8 && q != 16 {
		return 0, false
	}
	_, isUnit := units[r.word(d+3)]
	return float64(n) / float64(q), isUnit
}

// unit takes the unit after a number, tied to it by nothing but a space or a dash.
func (r *reader) unit() (Unit, bool) {
	d := 0
	if r.isGlued(0, "-") {
		d = 1
	}
	u, ok := units[r.word(d)]
	switch w := r.word(d); {
	case r.isGlued(d, "#"):
		u, ok = Pounds, true // as in "135#"
	case misspelt[w]:
		u, ok, r.guess = Kilograms, true, true
	}
	if !ok || u == stones && r.ordinalST() {
		return noUnit, false
	}
	r.i += d + 1
	return u, true
}

// ordinalST reports that "st" makes the number before it an ordinal: "21st", but not "11st" or "21st 4lb".
func (r *reader) ordinalST() bool {
	n := r.word(-1)
	return r.isGlued(0, "st") && n[len(n)-1] == '1' && n != "11" && (r.i+1 >= len(r.toks) || r.toks[r.i+1].kind != number)
}

// smaller takes what follows pounds and stones: "135 lb 6 oz", "9 st 9 lb", "9 st 9",
// "24 kg 850 g". It turns stones into pounds.
func (r *reader) smaller(m *mass) {
	switch m.unit {
	case ounces:
		m.unit, m.amount.v, m.amount.thousands = PoundsOunces, m.amount.v/16, m.amount.thousands/16
	case stones:
		m.unit = Pounds
		m.amount.v *= 14
		m.amount.thousands = 0
		if v, ok := r.next(Pounds, 14); ok {
			m.amount.v += v
			r.ounces(m)
		}
	case Pounds:
		r.ounces(m)
	case Kilograms:
		if v, ok := r.next(Grams, 1000); ok && m.amount.integer {
			m.amount = amount{v: m.amount.v + v/1000}
		}
	}
}

func (r *reader) ounces(m *mass) {
	if v, ok := r.next(ounces, 16); ok {
		m.unit = PoundsOunces
		m.amount.v += v / 16
		m.amount.thousands = 0
	}
}

// next takes a number below limit in unit u, with "and", "&" or a comma before it.
func (r *reader) next(u Unit, limit float64) (float64, bool) {
	start := r.i
	for r.is(0, "and") || r.is(0, "&") || r.is(0, ",") || r.is(0, ".") {
		r.i++
	}
	a, ok := r.amount()
	got, has := r.unit()
	if ok && !has && u == Pounds && a.integer { // "9 stone 9"
		got, has = Pounds, true
	}
	if !ok || !has || got != u || a.v >= limit {
		r.i = start
		return 0, false
	}
	return a.v, true
}

// tiedToWord reports that what follows makes the number something else: "24x", "61.4/2", "61.4 %".
func (r *reader) tiedToWord() bool {
	if r.i >= len(r.toks) {
		return false
	}
	t := r.toks[r.i]
	if t.kind == word && t.glued && r.toks[r.i-1].kind == number {
		r.unknown++
		return true
	}
	return false
}

// afterAt keeps a number after "at" that can be a time for settle.
func (r *reader) afterAt(start int, m mass) bool {
	if start == 0 || m.negative || r.maybe != nil || r.i != start+1 {
		return false
	}
	exact := false
	switch r.toks[start-1].text {
	case "at", "@", "by":
		exact = true
	case "about", "around", "circa", "ca", "approx", "approximately", "roughly":
	default:
		return false
	}
	c, ok := loneClock(r.toks[start].text)
	if ok {
		r.maybe = &atNumber{m, c, exact}
	}
	return ok
}
