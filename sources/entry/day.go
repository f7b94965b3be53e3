package entry

import "time"

// ago takes "2 hours ago", "half an hour ago", "a week ago".
func (r *reader) ago() bool {
	d, n := 1, 1.0
	switch {
	case r.is(0, "half") && (r.is(1, "an") || r.is(1, "a")):
		d, n = 2, 0.5
	case r.is(0, "a") && r.is(1, "couple") && r.is(2, "of"):
		d, n = 3, 2
	case r.is(0, "a"), r.is(0, "an"), r.is(0, "one"):
	default:
		v, ok := r.num(0)
		if !ok {
			return false
		}
		n = float64(v)
	}
	span, ok := spans[r.word(d)]
	if !ok || !r.is(d+1, "ago") {
		return false
	}
	r.i += d + 2
	w := &r.when
	if span < 24*time.Hour {
		w.twice = w.twice || w.hasAgo
		w.ago, w.hasAgo = time.Duration(n*float64(span)), true
		return true
	}
	w.setDate(dateOf(r.ctx.Now).plus(-int(n * span.Hours() / 24)))
	w.sameTime = true
	return true
}

// day takes a day, a part of a day, or both.
func (r *reader) day() bool {
	return r.relativeDay() || r.weekday() || r.partOfDay() || r.isoDate() || r.slashDate() || r.dottedDate() || r.monthDate()
}

func (r *reader) takeDate(d date, tokens int) bool {
	r.i += tokens
	if !d.valid() { // 31.02.: asked about
		r.when.twice = true
		return true
	}
	r.when.setDate(d)
	return true
}

// relativeDay takes "today", "yesterday", "the day before yesterday", "last night", "tonight", "this morning".
func (r *reader) relativeDay() bool {
	today := dateOf(r.ctx.Now)
	switch w := r.word(0); w {
	case "today":
		return r.takeDate(today, 1)
	case "yesterday":
		return r.takeDate(today.plus(-1), 1)
	case "tomorrow":
		return r.takeDate(today.plus(1), 1)
	case "tonight":
		r.when.part, r.when.hasPart = night, true
		return r.takeDate(today, 1)
	case "day":
		if r.is(1, "before") && r.is(2, "yesterday") {
			return r.takeDate(today.plus(-2), 3)
		}
	case "last", "this":
		p, ok := parts[r.word(1)]
		if !ok {
			return false
		}
		r.when.part, r.when.hasPart = p, true
		if w == "last" {
			today = today.plus(-1)
		}
		return r.takeDate(today, 2)
	}
	return false
}

// weekday takes "on monday" (today, or the last one) and "last monday" (never today).
func (r *reader) weekday() bool {
	d, last := 0, false
	for r.is(d, "on") || r.is(d, "last") || r.is(d, "this") {
		last = last || r.is(d, "last")
		d++
	}
	want, ok := weekdays[r.word(d)]
	if !ok {
		return false
	}
	today := dateOf(r.ctx.Now)
	back := (int(r.ctx.Now.Weekday()) - int(want) + 7) % 7
	if back == 0 && last {
		back = 7
	}
	if r.is(d+1, ".") {
		d++
	}
	return r.takeDate(today.plus(-back), d+1)
}

// partOfDay takes "noon", "in the morning", "at night", "midnight" (the last one).
func (r *reader) partOfDay() bool {
	d := 0
	for r.is(d, "in") || r.is(d, "at") || r.is(d, "the") || r.is(d, "around") {
		d++
	}
	w := r.word(d)
	if w == "midnight" {
		r.i += d + 1
		r.when.setClock(clock{})
		return true
	}
	p, ok := parts[w]
	if !ok {
		return false
	}
	r.i += d + 1
	r.when.part, r.when.hasPart = p, true
	return true
}

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

// dottedDate takes 24.11.2026, and 24.11 after "on".
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
	switch r.word(d + 1) {
	case "st", "nd", "rd", "th":
		return day, 2, true
	}
	return day, 1, true
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
	return r.is(-1, "on") && !isUnit && ok1 && ok2 && r.inYear(0, time.Month(m), d).valid()
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
