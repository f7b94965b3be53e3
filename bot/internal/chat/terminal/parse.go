package terminal

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"tarebell/bot/internal/chat"
)

// word is one piece of a command line.
type word struct {
	name   string // of the option, when given as name:value
	value  string
	quoted bool
}

// split cuts a command line into words. Double quotes keep blanks together: when:"yesterday 18:00".
// A quote that is never closed reaches to the end of the line.
func split(line string, isOption func(string) bool) []word {
	var words []word
	rest := strings.TrimSpace(line)
	for rest != "" {
		var w word
		if i := strings.IndexAny(rest, ": \t\""); i > 0 && rest[i] == ':' && isOption(rest[:i]) {
			w.name, rest = strings.ToLower(rest[:i]), strings.TrimLeft(rest[i+1:], " \t")
		}
		if after, ok := strings.CutPrefix(rest, `"`); ok {
			w.quoted = true
			w.value, rest, _ = strings.Cut(after, `"`)
		} else if i := strings.IndexFunc(rest, unicode.IsSpace); i >= 0 {
			w.value, rest = rest[:i], rest[i:]
		} else {
			w.value, rest = rest, ""
		}
		words = append(words, w)
		rest = strings.TrimSpace(rest)
	}
	return words
}

// parseOptions reads what follows a command. Options are given as name:value or in the order of the spec;
// a free text without quotes takes all the words up to the next name, so that "/weigh 61.4 kg" needs none.
func parseOptions(spec chat.Spec, line string) (map[string]string, error) {
	words := split(line, func(s string) bool { return find(spec, s) != nil })
	got := map[string]string{}
	for i := 0; i < len(words); {
		o := find(spec, words[i].name)
		if words[i].name == "" {
			o = open(spec, got)
		}
		if o == nil {
			return nil, fmt.Errorf("%q is one thing too many; it goes: %s", words[i].value, Usage(spec))
		}
		if meant := misspelt(spec, words[i]); meant != "" {
			return nil, fmt.Errorf("%q: did you mean %s:… ? It goes: %s", words[i].value, meant, Usage(spec))
		}
		if name := stranger(words[i]); name != "" && o.Kind != chat.Text {
			return nil, fmt.Errorf("%q: there is no %s: here; it goes: %s", words[i].value, name, Usage(spec))
		}
		n := takes(*o, words[i:])
		value, err := check(spec, *o, join(words[i:i+n]))
		if err != nil {
			return nil, err
		}
		if _, twice := got[o.Name]; twice {
			return nil, fmt.Errorf("%s is given twice; it goes: %s", o.Name, Usage(spec))
		}
		got[o.Name] = value
		i += n
	}
	return got, nil
}

// stranger is the name in a word such as "by:Anna" that names no option; empty for other words.
func stranger(w word) string {
	name, value, colon := strings.Cut(w.value, ":")
	if !colon || value == "" || name == "" || w.name != "" || w.quoted || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) }) {
		return ""
	}
	return name
}

// misspelt is the option that a word such as "wieght:61" was probably meant for; empty for other words.
func misspelt(spec chat.Spec, w word) string {
	name, _, colon := strings.Cut(w.value, ":")
	if !colon || w.name != "" || w.quoted || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) }) {
		return ""
	}
	var names []string
	for _, o := range spec.Options {
		names = append(names, o.Name)
	}
	return nearest(name, names)
}

// missing is the first required option that was not given.
func missing(spec chat.Spec, got map[string]string) (chat.Option, bool) {
	for _, o := range spec.Options {
		if _, ok := got[o.Name]; o.Required && !ok {
			return o, true
		}
	}
	return chat.Option{}, false
}

// takes says how many of the words belong to the option o, at least one.
func takes(o chat.Option, words []word) int {
	n := 1
	if o.Kind != chat.Text || words[0].quoted {
		return n
	}
	for n < len(words) && words[n].name == "" && !words[n].quoted {
		n++
	}
	for k := n; k > 0 && len(o.Choices) > 0; k-- {
		if _, ok := choice(o, join(words[:k])); ok {
			return k
		}
	}
	if len(o.Choices) > 0 {
		return 1
	}
	return n
}

func join(words []word) string {
	parts := make([]string, len(words))
	for i, w := range words {
		parts[i] = w.value
	}
	return strings.Join(parts, " ")
}

// check brings a value into the form in which a chat platform would hand it over.
func check(spec chat.Spec, o chat.Option, value string) (string, error) {
	if len(o.Choices) > 0 {
		c, ok := choice(o, value)
		if !ok {
			return "", fmt.Errorf("%s: read %q; it can be %s", o.Name, value, labels(o.Choices))
		}
		return c, nil
	}
	if o.Kind == chat.Number {
		x, err := strconv.ParseFloat(strings.ReplaceAll(value, ",", "."), 64)
		if err != nil || x-x != 0 { // x-x is NaN for infinities and NaN
			return "", fmt.Errorf("%s: read %q; it wants a number, as in /%s %s:2", o.Name, value, spec.Name, o.Name)
		}
		return strconv.FormatFloat(x, 'f', -1, 64), nil
	}
	return value, nil
}

func choice(o chat.Option, value string) (string, bool) {
	for _, c := range o.Choices {
		if strings.EqualFold(c.Value, value) || strings.EqualFold(c.Label, value) {
			return c.Value, true
		}
	}
	return "", false
}

func labels(choices []chat.Choice) string {
	parts := make([]string, len(choices))
	for i, c := range choices {
		parts[i] = c.Label
	}
	return strings.Join(parts, ", ")
}

func find(spec chat.Spec, name string) *chat.Option {
	for i := range spec.Options {
		if name != "" && strings.EqualFold(spec.Options[i].Name, name) {
			return &spec.Options[i]
		}
	}
	return nil
}

// open is the first option, in order, that has no value yet.
func open(spec chat.Spec, got map[string]string) *chat.Option {
	for i := range spec.Options {
		if _, ok := got[spec.Options[i].Name]; !ok {
			return &spec.Options[i]
		}
	}
	return nil
}

// Usage is how a command is typed: /made count [drink].
func Usage(spec chat.Spec) string {
	parts := []string{"/" + spec.Name}
	for _, o := range spec.Options {
		if o.Required {
			parts = append(parts, o.Name+":…")
		} else {
			parts = append(parts, "["+o.Name+":…]")
		}
	}
	return strings.Join(parts, " ")
}

// Line is a command as it could be typed, with its options in the order of the spec.
func Line(spec chat.Spec, options map[string]string) string {
	parts := []string{"/" + spec.Name}
	for _, o := range spec.Options {
		if v, ok := options[o.Name]; ok {
			if strings.ContainsFunc(v, unicode.IsSpace) || v == "" {
				v = `"` + v + `"`
			}
			parts = append(parts, o.Name+":"+v)
		}
	}
	return strings.Join(parts, " ")
}

// nearest is the known name that takes the fewest single-letter changes (Levenshtein 1966) to get to from
// what was typed; empty when even that would change more than half of it.
func nearest(typed string, names []string) string {
	best, least := "", len([]rune(typed))/2+1
	for _, n := range names {
		if d := changes([]rune(strings.ToLower(typed)), []rune(n)); d < least {
			best, least = n, d
		}
	}
	return best
}

func changes(a, b []rune) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		diagonal := row[0]
		row[0] = i + 1
		for j := range b {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			next := min(row[j]+1, row[j+1]+1, diagonal+cost)
			diagonal, row[j+1] = row[j+1], next
		}
	}
	return row[len(b)]
}
