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
