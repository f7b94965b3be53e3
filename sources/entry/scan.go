package entry

import (
	"math"
	"slices"
)

// findings is what a message holds.
type findings struct {
	masses []mass
	names  []hit // cylinders named
	marks  []hit // words for net and gross
	when   when

	heard map[role]bool // roles of the words that are no part of a name, a time or a mass

	others       int      // numbers that are no masses
	unknown      []string // words that are not in the lexicon
	signs        bool     // such as % and +
	words, fills int      // words that may stand beside a lone number, and those that only stand beside one with a unit
	slip         bool     // a slip of the finger in a unit
	question     bool
	denied       bool // the next number is not right
}

// hit is a word with a meaning from token at to token end.
type hit struct {
	at, end int
	text    string
}

// reader goes through the tokens of a message.
type reader struct {
	toks  []token
	names []name
	ctx   *Context
	i     int
	findings
}

// scan takes a message apart.
func scan(toks []token, names []name, ctx *Context) *findings {
	r := &reader{toks: toks, names: names, ctx: ctx, findings: findings{heard: map[role]bool{}}}
	for r.i < len(toks) {
		if !(r.name() || r.date() || r.clock() || r.mention() || r.mass() || r.known()) {
			r.other()
		}
	}
	r.settle()
	return &r.findings
}

// mention passes "@everyone".
func (r *reader) mention() bool {
	if r.is(0, "@") && r.i+1 < len(r.toks) && r.toks[r.i+1].glued && r.toks[r.i+1].kind == word {
		r.i += 2
		return true
	}
	return false
}

// known passes a phrase of the lexicon and keeps what it says.
func (r *reader) known() bool {
	for n := min(longest[r.word(0)], len(r.toks)-r.i); n > 0; n-- {
		roles := lexicon[phrase(r.toks[r.i:r.i+n])]
		if len(roles) == 0 || n == 1 && r.toks[r.i].kind == sign {
			continue
		}
		r.hear(roles, n)
		r.i += n
		return true
	}
	return false
}

// hear keeps the roles of a phrase of n tokens.
func (r *reader) hear(roles map[role]string, n int) {
	has := func(what role) bool { _, ok := roles[what]; return ok }
	text := r.word(0)
	for what := range roles {
		r.heard[what] = true
	}
	r.denied = r.denied || has(isNot)
	for _, mark := range []role{isNet, isLeft, isGross} {
		if has(mark) {
			r.marks = append(r.marks, hit{r.i, r.i + n, string(mark)})
		}
	}
	switch {
	case has(isSoft), has(isScale), has(isCylinder), has(isNet), has(isGross), has(isWrong), has(isNot), has(isAt):
		r.words++
	case has(isFill), has(isBottle), has(isLeft), has(isGuess), has(isFittings), has(isLast), has(isOn), has(isOne),
		has(isEmpty), has(isFull), has(isNew), has(isAgain), has(isFilled), has(isJoint):
		r.words++
		r.fills++
	default:
		r.unknown = append(r.unknown, text)
	}
}

// other passes a token that is no weight, time or name.
func (r *reader) other() {
	t := r.toks[r.i]
	r.i++
	switch {
	case t.kind == number:
		if !(t.text == "2" && t.glued && r.word(-2) == "co") {
			r.others++
		}
	case t.kind == word:
		r.unknown = append(r.unknown, t.text)
	case t.text == "?":
		r.question = true
	case slices.Contains([]string{"$", "€", "£", "¥", "%", "+", "°", "^", "{", "[", "\\", "#", ">", "<"}, t.text), t.text == "/" && r.i < len(r.toks) && r.toks[r.i].glued && r.toks[r.i].kind == word:
		r.signs = true
	case t.text == ":" && t.glued && r.digitsAt(0) && r.toks[r.i].glued && r.digitsAt(-2): // a score, an odd time
		r.others++
	}
}

// settle leaves out what is said not to be, and what says the first weight again: "not 21.5, 21.4", "61.4 kg (135 lb 6 oz)".
func (r *reader) settle() {
	isDenied := func(m mass) bool { return m.denied }
	if right := slices.DeleteFunc(slices.Clone(r.masses), isDenied); len(right) < len(r.masses) {
		r.heard[isWrong] = true
		if len(right) > 0 || !r.onlyNo() {
			r.masses = right
		}
	}
	if len(r.masses) > 1 {
		first := r.masses[0]
		r.masses = append(r.masses[:1], slices.DeleteFunc(r.masses[1:], func(m mass) bool { return m.repeats(first) })...)
	}
}

// onlyNo reports that all that denies a number is a "no", which may as well answer somebody: "no 21.1".
func (r *reader) onlyNo() bool {
	return !slices.ContainsFunc(r.toks, func(t token) bool {
		roles := lexicon[t.text]
		_, not := roles[isNot]
		_, wrong := roles[isWrong]
		return not && !wrong
	})
}

func (m mass) repeats(first mass) bool {
	if m.unit == first.unit || m.unit == noUnit || first.unit == noUnit {
		return m.amount == first.amount && m.negative == first.negative
	}
	a, b := float64(grams(first.amount.v, first.unit)), float64(grams(m.amount.v, m.unit))
	return math.Abs(a-b) <= 0.005*a
}

// word is the text of the token d places from the next one, "" if there is none.
func (r *reader) word(d int) string {
	if i := r.i + d; i >= 0 && i < len(r.toks) {
		return r.toks[i].text
	}
	return ""
}

// text is the tokens from i to j.
func (r *reader) text(i, j int) string { return phrase(r.toks[i:j]) }

// is reports whether the token d places on is w.
func (r *reader) is(d int, w string) bool { return r.word(d) == w }

// isGlued reports whether the token d places on is w with no space before it.
func (r *reader) isGlued(d int, w string) bool { return r.is(d, w) && r.toks[r.i+d].glued }

// num is the whole number d places on.
func (r *reader) num(d int) (int, bool) {
	if !r.digitsAt(d) {
		return 0, false
	}
	return small(r.word(d))
}
