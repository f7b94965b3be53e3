package config

import (
	"fmt"
	"sort"
	"strings"
)

// Error is one thing wrong in a config file.
type Error struct {
	File      string
	Line, Col int    // from 1, Col in characters; Col 0: unknown
	Path      string // key path such as cylinders[0].tare; "" is the file as a whole
	Read      string // what stood there, quoted; "" when nothing did or when it may be a secret
	Want      string // what is wrong with it and what would be right
}

// Error is "file:line:col: path: read: want" without the parts that are empty.
func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
	}
	if e.Col > 0 {
		fmt.Fprintf(&b, ":%d", e.Col)
	}
	for _, s := range []string{e.Path, e.Read, e.Want} {
		if s != "" {
			b.WriteString(": " + s)
		}
	}
	return b.String()
}

// Errors is everything wrong in a config file, in file order. It is never empty when returned.
type Errors []*Error

// Error is one line for each mistake.
func (es Errors) Error() string {
	lines := make([]string, len(es))
	for i, e := range es {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the single errors to errors.As.
func (es Errors) Unwrap() []error {
	out := make([]error, len(es))
	for i, e := range es {
		out[i] = e
	}
	return out
}

// inFileOrder sorts es by place; mistakes at one place keep the order in which they were found.
func (es Errors) inFileOrder() {
	sort.SliceStable(es, func(i, j int) bool {
		a, b := es[i], es[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Col < b.Col
	})
}

// maxShown bounds how much of a value an error repeats.
const maxShown = 60

// quote shows a value as it was read, on one line and bounded.
func quote(s string) string {
	if r := []rune(s); len(r) > maxShown {
		s = string(r[:maxShown-1]) + "…"
	}
	return fmt.Sprintf("%q", s)
}
