package entry

import (
	"slices"
	"strings"
)

// findings is what a message holds.
type findings struct {
	masses []mass
	names  []hit // cylinders named
	marks  []hit // "net" and "gross"
	when   when
	maybe  *atNumber // "at 7": a time if there is a weight besides, else the weight

	unknown  int      // words that belong to talk
	strange  []string // those that are words
	first    bool     // the message begins with a weight
	talk     bool     // a sign that makes it talk whatever else it holds
	anchored bool     // speaks of weighing
	guess    bool
	question bool
	words    int // words skipped
}

// hit is a word with a meaning at a token.
type hit struct {
	at   int
	text string
}

// atNumber is a number after "at" that can be a time.
type atNumber struct {
	mass  mass
	clock clock
	exact bool // after "at", not "about"
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
	r := &reader{toks: toks, names: names, ctx: ctx}
	if len(toks) > 0 && slices.Contains([]string{"/", ">"}, toks[0].text) {
		r.talk = true // a command, or somebody else's words quoted
	}
	for r.i < len(toks) {
		if r.ago() || r.day() || r.clock() || r.name() || r.temperature() || r.mass() {
			continue
		}
		r.other()
	}
	r.first = len(r.masses) > 0 && r.opening(r.masses[0].at)
	r.settle()
	return &r.findings
}

// opening reports that nothing but signs stands before token at.
func (r *reader) opening(at int) bool {
	return !slices.ContainsFunc(r.toks[:at], func(t token) bool { return t.kind != sign })
}

// temperature skips "19.8 °C".
func (r *reader) temperature() bool {
	d := 0
	if r.is(0, "-") {
		d = 1
	}
	if i := r.i + d; i >= len(r.toks) || r.toks[i].kind != number || !r.is(d+1, "°") {
		return false
	}
	r.i += d + 2
	if r.isGlued(0, "c") || r.isGlued(0, "f") {
		r.i++
	}
	return true
}

// settle decides what a number after "at" was.
func (r *reader) settle() {
	m := r.maybe
	switch {
	case m == nil:
	case len(r.masses) > 0 && !r.when.hasClock:
		r.when.setClock(m.clock)
	case len(r.masses) == 0 && m.exact && m.mass.amount.integer && !r.anchored && len(r.names) == 0:
		r.talk = true // "at 7"
	default:
		r.masses = append(r.masses, m.mass)
	}
}

// other skips a token that is no weight, time or name.
func (r *reader) other() {
	t := r.toks[r.i]
	r.i++
	switch {
	case t.kind == number && t.text == "2" && t.glued && r.word(-2) == "co":
	case t.kind == number:
		r.unknown++
	case t.kind == sign:
		r.sign(t)
	default:
		r.plainWord(t.text)
	}
}

func (r *reader) plainWord(w string) {
	r.words++
	w = strings.TrimSuffix(w, "'s") // the bottle's at ...
	if netWords[w] || grossWords[w] || w == "gas" && r.is(-2, "of") {
		r.marks = append(r.marks, hit{r.i - 1, w})
	}
	switch {
	case anchors[w]:
		r.anchored = true
		r.guess = r.guess || w == "tare" // not what the scale shows
	case guesses[w]:
		r.guess = true
	case !around[w]:
		r.unknown++
		r.strange = append(r.strange, w)
	}
}

// sign looks at a single character. Money, percent and the like make a message talk.
func (r *reader) sign(t token) {
	switch t.text {
	case "?":
		r.question = true
	case "$", "€", "£", "¥", "%", "#", "<", "|", "\\", "^", "{", "[":
		r.talk = true
	case "+":
		r.unknown++
	case ":": // a score, an odd time
		if t.glued && r.i < len(r.toks) && r.toks[r.i].glued && r.toks[r.i].kind == number && r.toks[r.i-2].kind == number {
			r.unknown++
		}
	case "~":
		if t.glued && r.word(-2) == "~" {
			r.talk = true // struck through
		}
	}
}

// word is the text of the token d places from the next one, "" if there is none.
func (r *reader) word(d int) string {
	if i := r.i + d; i >= 0 && i < len(r.toks) {
		return r.toks[i].text
	}
	return ""
}

// is reports whether the token d places on is w.
func (r *reader) is(d int, w string) bool { return r.word(d) == w }

// isGlued reports whether the token d places on is w with no space before it.
func (r *reader) isGlued(d int, w string) bool { return r.is(d, w) && r.toks[r.i+d].glued }

// num is the whole number d places on.
func (r *reader) num(d int) (int, bool) {
	if i := r.i + d; i < 0 || i >= len(r.toks) || r.toks[i].kind != number {
		return 0, false
	}
	return small(r.word(d))
}
