package terminal

import (
	"strings"

	"github.com/rivo/uniseg"
)

// wrap breaks text at blanks into lines of at most width columns, the first one already used columns long.
// A word longer than a line stays whole: paths and links must stay copyable. Width 0 means no limit.
func wrap(text string, used, width int) []string {
	return fill(strings.Fields(text), " ", used, width)
}

// fill joins parts with sep into lines as wrap does.
func fill(parts []string, sep string, used, width int) []string {
	if width <= 0 || len(parts) == 0 {
		return []string{strings.Join(parts, sep)}
	}
	var lines []string
	line, col := "", used
	for _, w := range parts {
		n := uniseg.StringWidth(w)
		switch {
		case line == "":
			line, col = w, col+n
		case col+len(sep)+n <= width:
			line, col = line+sep+w, col+len(sep)+n
		default:
			lines = append(lines, line)
			line, col = w, n
		}
	}
	return append(lines, line)
}
