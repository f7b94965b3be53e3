package entry

import (
	"slices"
	"strings"
)

// longestReply is in tokens: who answers a question in words is brief.
const longestReply = 6

// Choose reads text as the answer to a question with these choices: "yes" (the first of them), "no" (-1: none), "the second", or a
// word that only one of them has: "lb", "net", "main". ok is false for any other talk, and for a bare yes to several choices unless
// the first is what was asked.
func Choose(text string, choices []string, asked bool) (i int, ok bool) {
	r := &reader{toks: lex(normal(text))}
	if len(r.toks) == 0 || len(r.toks) > longestReply {
		return 0, false
	}
	var yes, no bool
	nth := 0
	var rest []token
	for r.i < len(r.toks) {
		if n, tokens, isNth := r.value(0, isNth); isNth && nth == 0 {
			nth, r.i = n, r.i+tokens
			continue
		}
		switch {
		case r.skip(isYes):
			yes = true
		case r.skip(isNo):
			no = true
		case r.toks[r.i].kind == sign || r.only(isSoft, isFill) && !r.said(choices):
			r.i++
		default:
			rest = append(rest, r.toks[r.i])
			r.i++
		}
	}
	only := choiceWith(rest, choices)
	switch {
	case asked && slices.ContainsFunc(rest, func(t token) bool { return t.kind == number }):
		return 0, false // the weight once more
	case len(rest) > 0:
		return only, only >= 0 && nth == 0 && !no
	case nth != 0 && !yes && !no && nth <= len(choices) && len(choices) > 1:
		if nth < 0 {
			nth += len(choices) + 1
		}
		return nth - 1, true
	case no && !yes && nth == 0:
		return -1, true
	}
	return 0, yes && !no && nth == 0 && len(choices) > 0 && (len(choices) == 1 || asked)
}

// only reports that the next token has one of these roles.
func (r *reader) only(roles ...role) bool {
	return slices.ContainsFunc(roles, func(what role) bool { _, ok := lexicon[r.word(0)][what]; return ok })
}

// said reports that the next token stands in a choice.
func (r *reader) said(choices []string) bool { return choiceWith(r.toks[r.i:r.i+1], choices) >= 0 }

// choiceWith is the only choice that has all these words; -1 if there is none, or several.
func choiceWith(words []token, choices []string) int {
	found := -1
	for i, c := range choices {
		has := lex(normal(c))
		if slices.ContainsFunc(words, func(w token) bool {
			return !slices.ContainsFunc(has, func(h token) bool { return sameWord(w.text, h.text) })
		}) {
			continue
		}
		if found >= 0 {
			return -1
		}
		found = i
	}
	return found
}

// sameWord reports that two words are the same, or are names of one unit.
func sameWord(a, b string) bool {
	ua, ok1 := lexicon[a][isUnit]
	ub, ok2 := lexicon[b][isUnit]
	return a == b || ok1 && ok2 && ua == ub || strings.ReplaceAll(a, ",", ".") == b
}
