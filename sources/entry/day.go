package entry

import (
	"strconv"
	"strings"
	"time"
)

// date finds out which day is meant, or how long ago.
func (r *reader) date() bool {
	start := r.i
	if r.ago() || r.named() {
		return true
	}
	if !r.skip(isOn) {
		r.skip(isAt)
	}
	if r.named() || r.isoDate() || r.slashDate() || r.dottedDate() || r.monthDate() {
		return true
	}
	r.i = start
	return r.isoDate() || r.slashDate() || r.dottedDate() || r.monthDate()
}

// named takes a day that has a name.
func (r *reader) named() bool { return r.dayWord() || r.weekday() }

// spans are the lengths behind the letters of the lexicon.
var spans = map[string]time.Duration{"m": time.Minute, "h": time.Hour, "d": 24 * time.Hour, "w": 7 * 24 * time.Hour, "half": 30 * time.Minute}

// ago takes "2 hours ago", "vor zwei Tagen", "il y a une heure", "hace 3 días".
func (r *reader) ago() bool {
	start := r.i
	before := r.skip(isSince)
	n, ok := r.count()
	letter, _, isOne := r.as(0, isSpan)
	if !isOne || !ok && letter != "half" {
		r.i = start
		return false
	}
	r.skip(isSpan)
	if !before && !r.skip(isAgo) {
		r.i = start
		return false
	}
	span := time.Duration(n) * spans[letter]
	w := &r.when
	if spans[letter] < 24*time.Hour {
		w.twice = w.twice || w.hasAgo
		w.ago, w.hasAgo = span, true
		return true
	}
	w.setDate(dateOf(r.ctx.Now).plus(-int(span.Hours() / 24)))
	w.sameTime = true
	return true
}

// count takes a small whole number: 2, two, "a".
func (r *reader) count() (int, bool) {
	if n, ok := r.num(0); ok && n <= 1000 {
		r.i++
		return n, true
	}
	if n, ok := r.numeral(); ok {
		return n, true
	}
	return 1, r.skip(isOne)
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

// dayWord takes a day or a part of a day that has a word: "yesterday", "heute früh", "ce matin", "in the morning".
func (r *reader) dayWord() bool {
	today := dateOf(r.ctx.Now)
	if v, n, ok := r.as(0, isWhen); ok {
		day, hour, _ := strings.Cut(v, ",")
		d, _ := strconv.Atoi(day)
		r.when.part, _ = strconv.Atoi(hour)
		r.when.hasPart = true
		return r.takeDate(today.plus(d), n)
	}
	if d, n, ok := r.value(0, isDay); ok {
		return r.takeDate(today.plus(d), n)
	}
	part, n, ok := r.value(0, isPart)
	if !ok {
		return false
	}
	r.i += n
	r.when.part, r.when.hasPart = part, true
	return true
}

// weekday takes "on monday" (today, or the last one) and "last monday", "lundi dernier" (never today).
func (r *reader) weekday() bool {
	start := r.i
	last := false
	for ok := true; ok; last = last || ok {
		r.skip(isOn)
		ok = r.skip(isLast)
	}
	want, n, ok := r.value(0, isWeekday)
	if !ok {
		r.i = start
		return false
	}
	r.i += n
	last = r.skip(isLast) || last
	if r.isGlued(0, ".") {
		r.i++
	}
	back := (int(r.ctx.Now.Weekday()) - want + 7) % 7
	if back == 0 && last {
		back = 7
	}
	return r.takeDate(dateOf(r.ctx.Now).plus(-back), 0)
}
