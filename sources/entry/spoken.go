package entry

import (
	"strconv"
	"strings"
)

// numeral takes a whole number below a hundred in words: "twenty one", "einundzwanzig", "vingt et un".
func (r *reader) numeral() (int, bool) {
	v, n, ok := r.value(0, isNumeral)
	if !ok {
		return r.compound()
	}
	r.i += n
	if v < 20 || v%10 != 0 {
		return v, true
	}
	_, and, _ := r.as(0, isJoint)
	if ones, n, ok := r.value(and, isNumeral); ok && ones > 0 && ones < 10 {
		r.i += and + n
		v += ones
	}
	return v, true
}

// compound takes a number that German writes as one word, the ones first: "einundzwanzig".
func (r *reader) compound() (int, bool) {
	ones, tens, ok := strings.Cut(r.word(0), "und")
	a, err1 := strconv.Atoi(lexicon[ones][isNumeral])
	b, err2 := strconv.Atoi(lexicon[tens][isNumeral])
	if !ok || err1 != nil || err2 != nil || a > 9 || b < 20 {
		return 0, false
	}
	r.i++
	return a + b, true
}

// pointed is a with the decimals that follow a spoken point: "24 komma 85", "twenty point eight".
func (r *reader) pointed(a amount) amount {
	start, digits := r.i, ""
	if !r.skip(isPoint) {
		return a
	}
	if _, ok := r.num(0); ok {
		digits = r.word(0)
		r.i++
	}
	for n, ok := 0, digits == ""; ok; {
		if n, ok = r.numeral(); ok {
			digits += strconv.Itoa(n)
		}
	}
	f, err := strconv.ParseFloat("0."+digits, 64)
	if err != nil || digits == "" {
		r.i = start
		return a
	}
	return amount{v: a.v + f}
}
