package entry

import (
	"strings"
	"time"
)

// clock takes a time of the day: 18:00, 7pm, 7:30 p.m., 18h, 18h30, 7 o'clock, half past 7, T18:00:05+01:00.
// A word such as "at" or "by" before it belongs to it.
func (r *reader) clock() bool {
	start := r.i
	for w := r.word(0); w == "at" || w == "@" || w == "by" || w == "t" && r.toks[r.i].glued; w = r.word(0) {
		r.i++
	}
	if c, ok := r.time(); ok {
		r.when.setClock(c)
		return true
	}
	r.i = start
	return false
}

func (r *reader) time() (clock, bool) {
	if c, ok := r.past(); ok {
		return c, true
	}
	if r.i >= len(r.toks) || r.toks[r.i].kind != number {
		return clock{}, false
	}
	if c, ok := r.colons(); ok {
		return c, true
	}
	if c, ok := r.hHours(); ok {
		return c, true
	}
	return r.bareHour()
}

// colons takes 18:00, 18:00:05, with am or pm or an offset from UTC behind.
func (r *reader) colons() (clock, bool) {
	h, ok1 := r.num(0)
	m, ok2 := r.num(2)
	if !ok1 || !ok2 || !r.isGlued(1, ":") || !r.toks[r.i+2].glued || len(r.word(2)) != 2 {
		return clock{}, false
	}
	c := clock{h: h, m: m, half: r.ctx.Units == US && len(r.word(0)) == 1}
	n := 3
	if s, ok := r.num(4); ok && r.isGlued(3, ":") && r.toks[r.i+4].glued {
		c.s, c.half, n = s, false, 5
	}
	r.i += n
	r.halfOfDay(&c)
	r.offset(&c)
	return c, c.ok()
}

// offset takes Z or +01:00 right after a time (RFC 3339).
func (r *reader) offset(c *clock) {
	if r.isGlued(0, "z") {
		c.zone = true
		r.i++
		return
	}
	h, ok1 := r.num(1)
	m, ok2 := r.num(3)
	if !r.isGlued(0, "+") && !r.isGlued(0, "-") || !ok1 || !ok2 || !r.isGlued(2, ":") || h > 15 || m > 59 {
		return
	}
	c.zone, c.offset = true, time.Duration(h)*time.Hour+time.Duration(m)*time.Minute
	if r.is(0, "-") {
		c.offset = -c.offset
	}
	r.i += 4
}

// hHours takes 18h and 18h30.
func (r *reader) hHours() (clock, bool) {
	h, ok := r.num(0)
	if !ok || !r.is(1, "h") || r.is(2, "ago") {
		return clock{}, false
	}
	c, n := clock{h: h}, 2
	if m, has := r.num(2); has && r.toks[r.i+2].glued && len(r.word(2)) == 2 {
		c.m, n = m, 3
	}
	if c.ok() {
		r.i += n
	}
	return c, c.ok()
}

// bareHour takes 7pm, 7.30 am, 7 o'clock.
func (r *reader) bareHour() (clock, bool) {
	c, ok := loneClock(r.word(0))
	if !ok {
		return c, false
	}
	start := r.i
	r.i++
	if r.halfOfDay(&c) {
		return c, c.ok()
	}
	if r.is(0, "o'clock") || r.is(0, "oclock") {
		r.i++
		r.halfOfDay(&c)
		return c, c.ok()
	}
	r.i = start
	return c, false
}

// past takes half past 7, quarter to 8, a quarter past 8.
func (r *reader) past() (clock, bool) {
	d := 0
	if r.is(0, "a") {
		d = 1
	}
	w, to := r.word(d), r.is(d+1, "to")
	h, ok := r.num(d + 2)
	if w != "half" && w != "quarter" || !to && !r.is(d+1, "past") || w == "half" && to || !ok || h < 1 || h > 12 {
		return clock{}, false
	}
	c := clock{h: h, m: 30, half: true}
	switch {
	case to:
		c.h, c.m = (h+11)%12, 45
	case w == "quarter":
		c.m = 15
	}
	r.i += d + 3
	r.halfOfDay(&c)
	return c, true
}

// loneClock reads a time that has no colon: 7, 18.30, 1830.
func loneClock(s string) (clock, bool) {
	hh, mm, dotted := strings.Cut(s, ".")
	if !dotted && len(s) == 4 {
		hh, mm = s[:2], s[2:]
	}
	h, ok := small(hh)
	c := clock{h: h, half: 1 <= h && h <= 12 && hh[0] != '0'}
	if mm != "" {
		m, okM := small(mm)
		ok = ok && okM && len(mm) == 2
		c.m = m
	}
	return c, ok && len(hh) <= 2 && c.ok()
}

// ok reports whether c is on the dial.
func (c clock) ok() bool {
	return c.h < 24 && c.m < 60 && c.s < 60 && (c.pm == 0 || c.h >= 1 && c.h <= 12)
}

// halfOfDay takes am, pm, a.m., p.m.
func (r *reader) halfOfDay(c *clock) bool {
	w, n := r.word(0), 1
	if (w == "a" || w == "p") && r.isGlued(1, ".") && r.isGlued(2, "m") {
		w += "m"
		n = 3
		if r.isGlued(3, ".") {
			n = 4
		}
	}
	switch w {
	case "am":
		c.pm = -1
	case "pm":
		c.pm = 1
	default:
		return false
	}
	c.half = false
	r.i += n
	return true
}

// plain is c on a dial of 24 hours, with am and pm and a part of the day applied; next reports that it
// belongs to the day after ("last night at 1").
func (c clock) plain(p part, hasPart bool) (out clock, next bool) {
	switch {
	case c.pm > 0:
		c.h = c.h%12 + 12
	case c.pm < 0:
		c.h %= 12
	case hasPart && c.h <= 12 && p.hour >= 12 && (p != night || c.h >= 6 && c.h < 12):
		c.h = c.h%12 + 12
	case hasPart && c.h == 12:
		c.h = 0
	}
	if hasPart {
		c.half = false
	}
	c.pm = 0
	return c, hasPart && p == night && c.h < 6
}
