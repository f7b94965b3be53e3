package entry

import (
	"cmp"
	"slices"
	"strings"
)

// name is a cylinder's name as tokens.
type name struct {
	text string
	toks []token
}

// nameTokens cuts the names of the cylinders, longest first. A name that is merely a unit is left out: in
// "61.4 kg" it would take the unit away.
func nameTokens(cs []Cylinder) []name {
	var names []name
	for _, c := range cs {
		toks := lex(normal(c.Name))
		_, unit := lexicon[phrase(toks)][isUnit]
		if len(toks) > 0 && !unit {
			names = append(names, name{c.Name, toks})
		}
	}
	slices.SortStableFunc(names, func(a, b name) int {
		return cmp.Or(len(b.toks)-len(a.toks), len(b.text)-len(a.text))
	})
	return names
}

// name takes the name of a cylinder.
func (r *reader) name() bool {
	for _, n := range r.names {
		if r.matches(n.toks) && !(len(n.toks) == 1 && n.toks[0].kind == number && r.has(1, isUnit)) { // with a cylinder "2", "2 kg" is a weight
			r.findings.names = append(r.findings.names, hit{r.i, r.i + len(n.toks), n.text})
			r.i += len(n.toks)
			return true
		}
	}
	return false
}

// matches reports whether the next tokens are want and no part of something longer, such as a date.
func (r *reader) matches(want []token) bool {
	end := r.i + len(want)
	if end > len(r.toks) {
		return false
	}
	for k, w := range want {
		if r.toks[r.i+k].text != w.text {
			return false
		}
	}
	return !r.tied(r.i-1, r.i) && !r.tied(end, end)
}

// tied reports whether the token at i is tied to the name beside it, with no space at token gap.
func (r *reader) tied(i, gap int) bool {
	if i < 0 || gap >= len(r.toks) || !r.toks[gap].glued {
		return false
	}
	t := r.toks[i]
	if t.kind != sign {
		return true
	}
	// "main-24.85" and "main: 24" are the name; "2026-11-25" and "24/11" with a cylinder 24 are not.
	return strings.Contains("/:-", t.text) && i+1 < len(r.toks) && r.toks[i+1].glued && r.toks[i+1].kind == number &&
		r.toks[gap-1].kind == number
}
