package entry

import (
	"strings"
	"time"

	"tarebell/forecast/unit"
)

// isoDate takes 2026-11-25 (ISO 8601, extended format).
func (r *reader) isoDate() bool {
	y, ok1 := r.num(0)
	m, ok2 := r.num(2)
	d, ok3 := r.num(4)
	if !ok1 || !ok2 || !ok3 || len(r.word(0)) != 4 || !r.isGlued(1, "-") || !r.isGlued(3, "-") {
		return false
	}
	return r.takeDate(date{y: y, m: time.Month(m), d: d}, 5)
}

// slashDate takes 24/11, 24/11/2026 and, in US units, 11/24 and 11/24/26.
func (r *reader) slashDate() bool {
	a, ok1 := r.num(0)
	b, ok2 := r.num(2)
	if !ok1 || !ok2 || !r.isGlued(1, "/") || !r.toks[r.i+2].glued || r.has(3, isUnit) {
		return false
	}
	y, n := 0, 3
	if _, ok := r.num(4); ok && r.isGlued(3, "/") {
		y, n = year(r.word(4)), 5
	}
	if r.ctx.Units == unit.US {
		a, b = b, a
	}
	if b > 12 {
		a, b = b, a
	}
	return r.takeDate(r.inYear(y, time.Month(b), a), n)
}

// dottedDate takes 24.11.2026, "on 24.11", and 24.11. beside a weight.
func (r *reader) dottedDate() bool {
	f := strings.Split(r.word(0), ".")
	if len(f) < 2 || len(f) > 3 {
		return false
	}
	d, ok1 := small(f[0])
	m, ok2 := small(f[1])
	if !ok1 || !ok2 {
		return false
	}
	if len(f) == 3 {
		return len(f[2])%2 == 0 && r.takeDate(r.inYear(year(f[2]), time.Month(m), d), 1)
	}
	on := r.is(-1, "on") || r.is(-1, "am") || r.is(-1, "vom")
	if r.has(1, isUnit) || !on && (!r.isGlued(1, ".") || !r.otherMass()) {
		return false
	}
	x := r.inYear(0, time.Month(m), d)
	if !x.valid() {
		return false
	}
	r.i++
	if r.is(0, ".") {
		r.i++
	}
	return r.takeDate(x, 0)
}

// otherMass reports a number with the unit of a mass somewhere, or a decimal besides the next token.
func (r *reader) otherMass() bool {
	for i, t := range r.toks {
		d := i - r.i
		if d == 0 || t.kind != number {
			continue
		}
		if r.has(d+1, isUnit) || strings.ContainsAny(t.text, ".,") && !r.isGlued(d+1, ".") {
			return true
		}
	}
	return false
}

func year(s string) int {
	y, _ := small(s)
	if len(s) == 2 {
		y += 2000
	}
	return y
}

// monthDate takes "24 Nov", "24. November 2026", "24th of Nov", "Nov 24".
func (r *reader) monthDate() bool {
	start := r.i
	m, n, ok := r.value(0, isMonth)
	r.i += n
	d, has := r.num(0)
	if has && d >= 1 && d <= 31 && len(r.word(0)) <= 2 && !r.has(1, isUnit) {
		r.i++
		ordinal := r.has(0, isOrdinal) && r.toks[r.i].glued && !r.digitsAt(1)
		if r.isGlued(0, ".") || ordinal {
			r.i++
		}
		if !ok {
			for r.is(0, "of") || r.is(0, "de") {
				r.i++
			}
			m, n, ok = r.value(0, isMonth)
			r.i += n
		}
		if ok {
			return r.takeDate(r.inYear(r.yearHere(), time.Month(m), d), 0)
		}
		if ordinal && r.i == start+2 {
			return r.takeDate(r.inMonth(d), 0)
		}
	}
	r.i = start
	return false
}

// inMonth is the last d-th of a month that is not still to come: "on the 24th".
func (r *reader) inMonth(d int) date {
	today := dateOf(r.ctx.Now)
	x := date{y: today.y, m: today.m, d: d}
	for n := 0; n < 3 && (x.after(today) || !x.valid()); n++ {
		if x.m--; x.m == 0 {
			x.y, x.m = x.y-1, 12
		}
	}
	x.noYear = true
	return x
}

// yearHere takes a year of four digits.
func (r *reader) yearHere() int {
	d := 0
	if r.is(0, ".") || r.is(0, ",") || r.is(0, "de") {
		d = 1
	}
	if y, ok := r.num(d); ok && y >= 1900 && y < 2200 && len(r.word(d)) == 4 {
		r.i += d + 1
		return y
	}
	return 0
}

// inYear is the day in year y or, if y is 0, the last such day that is not still to come.
func (r *reader) inYear(y int, m time.Month, d int) date {
	if y != 0 {
		return date{y: y, m: m, d: d}
	}
	today := dateOf(r.ctx.Now)
	x := date{y: today.y, m: m, d: d}
	for n := 0; n < 8 && (x.after(today) || !x.valid()); n++ { // 29 February may be eight years back
		x.y--
	}
	x.noYear = true
	return x
}
