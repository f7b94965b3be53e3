package terminal

import (
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit/mistake"
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
			return nil, fmt.Errorf("%q is one thing too many; it goes: %s", words[i].value, usage(spec))
		}
		if name := optionName(words[i]); name != "" {
			if meant, ok := mistake.Nearest(name, optionNames(spec)); ok {
				return nil, fmt.Errorf("%q: did you mean %s:… ? It goes: %s", words[i].value, meant, usage(spec))
			}
			if o.Kind != chat.Text {
				return nil, fmt.Errorf("%q: there is no %s: here; it goes: %s", words[i].value, name, usage(spec))
			}
		}
		n := takes(*o, words[i:])
		value, err := check(spec, *o, join(words[i:i+n]))
		if err != nil {
			return nil, err
		}
		if _, twice := got[o.Name]; twice {
			return nil, fmt.Errorf("%s is given twice; it goes: %s", o.Name, usage(spec))
		}
		got[o.Name] = value
		i += n
	}
	return got, nil
}

// optionName is the name in a word such as "by:Anna" that names no option of the command; empty for other words.
func optionName(w word) string {
	name, _, colon := strings.Cut(w.value, ":")
	if !colon || w.name != "" || w.quoted || strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) }) {
		return ""
	}
	return name
}

func optionNames(spec chat.Spec) []string {
	names := make([]string, len(spec.Options))
	for i, o := range spec.Options {
		names[i] = o.Name
	}
	return names
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

// takes says how many of the words belong to the option o, at least one: of a choice as many as make one.
func takes(o chat.Option, words []word) int {
	if o.Kind != chat.Text || words[0].quoted {
		return 1
	}
	n := 1
	for n < len(words) && words[n].name == "" && !words[n].quoted {
		n++
	}
	for ; n > 1 && len(o.Choices) > 0; n-- {
		if _, ok := choice(o, join(words[:n])); ok {
			break
		}
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
	return mistake.Join(parts, "or")
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

// usage is how a command is typed: /made count [drink].
func usage(spec chat.Spec) string {
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

// typedLine is a command as it could be typed, with its options in the order of the spec.
func typedLine(spec chat.Spec, options map[string]string) string {
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
