package entry

import (
	"strings"
	"time"

	"tarebell/forecast/unit"
)

// clock takes a time of the day, with "at" before it: 18:00, T18:00:05+01:00, 7pm, 7:30 p.m., 18h, 18h30, 18 Uhr, midnight; and a
// number after "at" that can be a time and has no unit, if so much is sure: "at 7", "um 20", "at 18.30".
func (r *reader) clock() bool {
	start := r.i
	at := ""
	for r.has(0, isAt) || r.isGlued(0, "t") {
		i := r.i
		if !r.skip(isAt) {
			r.i++
		}
		at = r.text(i, r.i)
	}
	if r.skip(isMidnight) {
		r.when.setClock(clock{})
		return true
	}
	c, ok := r.time()
	if !ok && at != "" {
		c, ok = r.afterAt(at)
	}
	if !ok {
		r.i = start
		return false
	}
	r.when.setClock(c)
	return true
}

// time takes 18:00, 18:00:05, 18h30, 7.30 am, 18 Uhr, 18:30 Uhr.
func (r *reader) time() (clock, bool) {
	start := r.i
	c, ok := r.dial()
	sure := strings.Contains(r.text(start, r.i), ":")
	if ok && !sure && r.isGlued(0, "h") { // 18h, 18h30
		sure = !r.has(1, isAgo)
		r.i++
		if m, has := r.num(0); has && r.toks[r.i].glued && len(r.word(0)) == 2 {
			c.m = m
			r.i++
		}
	} else if ok && r.skip(isOclock) {
		sure = true
	}
	if ok && r.halfOfDay(&c) {
		sure = true
	}
	if r.offset(&c); ok && sure && c.ok() {
		return c, true
	}
	r.i = start
	return clock{}, false
}

// dial takes the digits: 18:00:05, 18:00, 18.30, 1830, 7.
func (r *reader) dial() (clock, bool) {
	h, ok := r.num(0)
	m, colon := r.num(2)
	if ok && colon && r.isGlued(1, ":") && r.toks[r.i+2].glued && len(r.word(2)) == 2 {
		c := clock{h: h, m: m, half: r.ctx.Units == unit.US && len(r.word(0)) == 1}
		r.i += 3
		if s, ok := r.num(1); ok && r.isGlued(0, ":") && r.toks[r.i+1].glued {
			c.s, c.half = s, false
			r.i += 2
		}
		return c, c.ok()
	}
	c, ok := loneClock(r.word(0))
	if ok {
		r.i++
	}
	return c, ok
}

// afterAt takes a number after "at" as a time. An English hour after noon is said with pm: "at 20" may be a weight.
func (r *reader) afterAt(at string) (clock, bool) {
	c, ok := loneClock(r.word(0))
	whole := len(r.word(0)) <= 2
	vague := at == "about" || at == "around"
	if !ok || r.has(1, isUnit) || (at == "at" || at == "@" || vague) && whole && c.h > 12 || at == "a" && whole || vague && !whole {
		return clock{}, false
	}
	r.i++
	return c, true
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
	switch {
	case r.skip(isAM):
		c.pm = -1
	case r.skip(isPM):
		c.pm = 1
	default:
		return false
	}
	if r.isGlued(0, ".") && r.word(-1) == "m" {
		r.i++
	}
	c.half = false
	return true
}

// plain is c on a dial of 24 hours, with am and pm and the hour of a part of the day applied; next reports that it
// belongs to the day after ("last night at 1").
func (c clock) plain(part int, hasPart bool) (out clock, next bool) {
	switch {
	case c.pm > 0:
		c.h = c.h%12 + 12
	case c.pm < 0:
		c.h %= 12
	case hasPart && c.h <= 12 && part >= 12 && (part != night || c.h >= 6 && c.h < 12):
		c.h = c.h%12 + 12
	case hasPart && c.h == 12:
		c.h = 0
	}
	if hasPart {
		c.half = false
	}
	c.pm = 0
	return c, hasPart && part == night && c.h < 6
}
