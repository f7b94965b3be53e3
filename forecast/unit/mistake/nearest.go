package mistake

import (
	"strings"

	"github.com/agnivade/levenshtein"
)

// Nearest is the word that was probably meant by s, whatever its case: s is the beginning of it, or at most a third of its letters
// differ, one in a short word. ok is false when no word is that near.
func Nearest(s string, words []string) (word string, ok bool) {
	s = strings.ToLower(s)
	least := 1 << 30
	for _, w := range words {
		if len(s) > 3 && strings.HasPrefix(w, s) {
			return w, true
		}
		if d := levenshtein.ComputeDistance(s, w); d < least {
			word, least = w, d
		}
	}
	return word, least <= max(1, (len(word)+2)/3)
}
