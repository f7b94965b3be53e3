package entry

import "time"

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
	if !ok1 || !ok2 || !r.isGlued(1, "/") || !r.toks[r.i+2].glued {
		return false
	}
	if _, frac := r.fraction(0); frac {
		return false
	}
	y, n := 0, 3
	if v, ok := r.num(4); ok && r.isGlued(3, "/") {
		y, n = v, 5
		if len(r.word(4)) == 2 {
			y += 2000
		}
	}
	if r.ctx.Units == US {
		a, b = b, a
	}
	if b > 12 {
		a, b = b, a
	}
	return r.takeDate(r.inYear(y, time.Month(b), a), n)
}

// dottedDate takes 24.11.2026, and 24.11 after "on" or with a point after it beside a weight that has its unit.
func (r *reader) dottedDate() bool {
	if r.i >= len(r.toks) || r.toks[r.i].kind != number {
		return false
	}
	f := split(r.word(0), '.')
	if len(f) == 3 && len(f[2]) != 4 && len(f[2]) != 2 || len(f) == 2 && !r.onDate(f) || len(f) < 2 || len(f) > 3 {
		return false
	}
	d, ok1 := small(f[0])
	m, ok2 := small(f[1])
	y := 0
	if len(f) == 3 {
		y, _ = small(f[2])
		if len(f[2]) == 2 {
			y += 2000
		}
	}
	return ok1 && ok2 && r.takeDate(r.inYear(y, time.Month(m), d), 1)
}

// monthDate takes "24 Nov", "24th of November 2026", "Nov 24", "the 24th".
func (r *reader) monthDate() bool {
	if m, ok := months[r.word(0)]; ok {
		if d, n, ok := r.ordinal(1); ok {
			return r.monthYear(m, d, 1+n)
		}
		return false
	}
	d, n, ok := r.ordinal(0)
	if !ok {
		return false
	}
	if r.is(n, "of") || r.is(n, ".") {
		n++
	}
	if m, ok := months[r.word(n)]; ok {
		return r.monthYear(m, d, n+1)
	}
	return n == 2 && r.toks[r.i+1].glued && r.takeDate(r.inMonth(d), n)
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

func (r *reader) monthYear(m time.Month, d, n int) bool {
	y := 0
	if r.is(n, ".") || r.is(n, ",") {
		n++
	}
	if v, ok := r.num(n); ok && v >= 1900 && v < 2200 && len(r.word(n)) == 4 {
		y = v
		n++
	} else if r.is(n-1, ".") || r.is(n-1, ",") {
		n--
	}
	return r.takeDate(r.inYear(y, m, d), n)
}

// ordinal is a day of the month d places on and how many tokens it takes: 24, 24th.
func (r *reader) ordinal(d int) (day, n int, ok bool) {
	day, ok = r.num(d)
	if !ok || day < 1 || day > 31 {
		return 0, 0, false
	}
	if s := suffix(day); r.isGlued(d+1, s) && !(s == "st" && r.poundsAt(d+2)) {
		return day, 2, true
	}
	return day, 1, true
}

// suffix makes day an ordinal.
func suffix(day int) string {
	if day/10 == 1 {
		return "th"
	}
	switch day % 10 {
	case 1:
		return "st"
	case 2:
		return "nd"
	case 3:
		return "rd"
	}
	return "th"
}

// poundsAt reports that the token d places on begins the pounds of a weight in stones: "21st 4lb".
func (r *reader) poundsAt(d int) bool {
	v, ok := r.num(d)
	return ok && v < 14 && units[r.word(d+1)] == Pounds
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

// onDate reports that the next token, cut into f, is a date without year: after "on", in the calendar, and
// no weight.
func (r *reader) onDate(f []string) bool {
	d, ok1 := small(f[0])
	m, ok2 := small(f[1])
	_, isUnit := units[r.word(1)]
	dated := r.is(-1, "on") || r.isGlued(1, ".") && r.unitElsewhere()
	return dated && !isUnit && ok1 && ok2 && r.inYear(0, time.Month(m), d).valid()
}

// unitElsewhere reports a number with a unit after it anywhere in the message.
func (r *reader) unitElsewhere() bool {
	for i := 1; i < len(r.toks); i++ {
		if _, isUnit := units[r.toks[i].text]; isUnit && r.toks[i-1].kind == number {
			return true
		}
	}
	return false
}

func split(s string, sep byte) []string {
	var f []string
	start := 0
	for i := 0; i <= len(s); i++ {
		if i == len(s) || s[i] == sep {
			f = append(f, s[start:i])
			start = i + 1
		}
	}
	return f
}
