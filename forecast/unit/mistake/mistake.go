// Package mistake says what is wrong in a file: where it stands, what was read, what would be right.
package mistake

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Mistake is one thing wrong in a file.
type Mistake struct {
	File      string
	Line, Col int    // from 1; 0: not known
	Path      string // the key or column, such as cylinders[0].tare; "": the line or file as a whole
	Read      string // what stood there, as Quote shows it; "": nothing, or what may be a secret
	Want      string // what is wrong with it and what would be right
}

// Error is "file:line:col: path: read: want" without the parts that are empty.
func (m *Mistake) Error() string {
	var b strings.Builder
	b.WriteString(m.File)
	for _, n := range []int{m.Line, m.Col} {
		if n > 0 {
			fmt.Fprintf(&b, ":%d", n)
		}
	}
	for _, s := range []string{m.Path, m.Read, m.Want} {
		if s != "" {
			b.WriteString(": " + s)
		}
	}
	return b.String()
}

// List is all that was found wrong in a file. It is never empty when returned as an error.
type List []*Mistake

// Error is one line for each mistake.
func (l List) Error() string {
	lines := make([]string, len(l))
	for i, m := range l {
		lines[i] = m.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the single mistakes to errors.As.
func (l List) Unwrap() []error {
	out := make([]error, len(l))
	for i, m := range l {
		out[i] = m
	}
	return out
}

// Sort orders l by place; mistakes at one place keep their order.
func (l List) Sort() {
	slices.SortStableFunc(l, func(a, b *Mistake) int { return cmp.Or(a.Line-b.Line, a.Col-b.Col) })
}

// maxShown bounds how much of a value is repeated, in characters.
const maxShown = 60

// Quote shows a value as it was read, on one line and bounded.
func Quote(s string) string {
	if r := []rune(s); len(r) > maxShown {
		s = string(r[:maxShown-1]) + "…"
	}
	return fmt.Sprintf("%q", s)
}

// Join lists words: "a, b or c" with the word "or" before the last.
func Join(words []string, word string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " " + word + " " + words[len(words)-1]
}
