package config

import (
	"fmt"
	"strings"
)

// nearest is the word most like s and whether it is like enough to be what was meant: at most a third of
// the letters differ, at least one typing slip is always forgiven, and so is a word cut short.
func nearest(s string, words []string) (string, bool) {
	best, at := "", 1<<30
	for _, w := range words {
		if len(s) > 3 && strings.HasPrefix(w, strings.ToLower(s)) {
			return w, true
		}
		if d := distance(strings.ToLower(s), w); d < at {
			best, at = w, d
		}
	}
	return best, at <= max(1, (len(best)+2)/3)
}

// distance is the number of single-letter insertions, deletions, replacements and swaps of neighbours that
// turn a into b (Damerau-Levenshtein, restricted form).
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 100 {
		return len(x)
	}
	two, one, row := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(x); i++ {
		two, one, row = one, row, two
		row[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			row[j] = min(one[j]+1, row[j-1]+1, one[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				row[j] = min(row[j], two[j-2]+1)
			}
		}
	}
	return row[len(y)]
}

// unknownKey says what to do about a key that does not belong into the group called where.
func unknownKey(where, name string) string {
	if name != "" && '0' <= name[0] && name[0] <= '9' {
		return "not a key but the rest of a number: between braces a comma ends a value; write the decimals with a point"
	}
	var known []string
	for _, k := range schema[where] {
		known = append(known, k.name)
	}
	if near, ok := nearest(name, known); ok {
		return fmt.Sprintf("unknown key; did you mean %s?", near)
	}
	for _, g := range groups() {
		for _, k := range schema[g] {
			if g != where && k.name == name && len(k.name) > 3 {
				return fmt.Sprintf("unknown key; %s belongs %s", name, place(g))
			}
		}
	}
	return "unknown key; use " + either(known)
}

func place(group string) string {
	if group == "" {
		return "at the top level"
	}
	return "under " + strings.ReplaceAll(group, "[]", "")
}

// either is "a, b or c".
func either(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}
