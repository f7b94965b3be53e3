package entry

import (
	"embed"
	"io/fs"
	"strconv"
	"strings"
)

// Lexicon: a file for each language, and one for what all have in common. A line is a role, perhaps with a value
// after a colon, and the words that have it; "_" joins the words of a phrase. A word may have several roles. The
// languages are not told apart: a message is read by all of them at once.
//
//go:embed lexicon/*.txt
var lexicons embed.FS

// role is what a word can be in a message.
type role string

// The roles. Values: a unit's letters, days from today, an hour, "day,hour", a weekday from Sunday 0, a month from 1.
const (
	isUnit     role = "unit"  // of a mass
	isStone    role = "stone" // 14 pounds
	isSlip     role = "slip"  // a slip of the finger for kg
	isOther    role = "other" // beside a number: it is no mass
	isSoft     role = "soft"  // may stand beside a lone number
	isFill     role = "fill"  // may stand beside a mass with its unit
	isScale    role = "scale" // speaks of weighing
	isCylinder role = "cylinder"
	isBottle   role = "bottle" // the cylinder, or one with drink in it
	isNet      role = "net"
	isLeft     role = "left" // likely net
	isGross    role = "gross"
	isFittings role = "fittings" // what does not show on the scale alone
	isGuess    role = "guess"
	isWrong    role = "wrong" // what was said before is not right
	isNot      role = "not"   // the number after it is not right
	isTalk     role = "talk"  // numbers beside it are money or the like

	isDay      role = "day"
	isPart     role = "part"
	isWhen     role = "when"
	isMidnight role = "midnight"
	isWeekday  role = "weekday"
	isLast     role = "last"
	isOn       role = "on"
	isMonth    role = "month"
	isOrdinal  role = "ordinal"
	isAt       role = "at"
	isOclock   role = "oclock"
	isAM       role = "am"
	isPM       role = "pm"
	isAgo      role = "ago"   // after a span
	isSince    role = "since" // before a span
	isSpan     role = "span"  // m, h, d or w
	isOne      role = "one"   // an article that counts
	isNumeral  role = "num"
	isPoint    role = "point"
	isJoint    role = "joint" // between tens and ones

	isEmpty  role = "empty"
	isFull   role = "full"
	isNew    role = "new"
	isAgain  role = "again"
	isFilled role = "filled"

	isYes role = "yes"
	isNo  role = "no"
	isNth role = "nth"
)

// lexicon finds the values of a phrase, whose tokens are joined by spaces, by role; longest is of how many tokens the longest phrase is
// that begins with a word.
var lexicon, longest = readLexicon()

func readLexicon() (words map[string]map[role]string, longest map[string]int) {
	words, longest = map[string]map[role]string{}, map[string]int{}
	files, err := fs.Glob(lexicons, "lexicon/*.txt")
	if err != nil {
		panic(err) // the pattern is constant
	}
	for _, name := range files {
		text, err := lexicons.ReadFile(name)
		if err != nil {
			panic(err) // it is part of the program
		}
		for line := range strings.Lines(string(text)) {
			f := strings.Fields(line)
			if len(f) == 0 || strings.HasPrefix(f[0], "#") && len(f[0]) == 1 {
				continue
			}
			what, value, _ := strings.Cut(f[0], ":")
			for _, w := range f[1:] {
				toks := lex(normal(strings.ReplaceAll(w, "_", " ")))
				key := phrase(toks)
				longest[toks[0].text] = max(longest[toks[0].text], len(toks))
				if words[key] == nil {
					words[key] = map[role]string{}
				}
				words[key][role(what)] = value
			}
		}
	}
	return words, longest
}

// phrase is tokens as the lexicon has them.
func phrase(toks []token) string {
	if len(toks) == 1 {
		return toks[0].text
	}
	text := make([]string, len(toks))
	for i, t := range toks {
		text[i] = t.text
	}
	return strings.Join(text, " ")
}

// as finds the longest phrase d tokens on that has a role: its value and how many tokens it takes.
func (r *reader) as(d int, what role) (value string, n int, ok bool) {
	i := r.i + d
	if i < 0 || i >= len(r.toks) {
		return "", 0, false
	}
	for n := min(longest[r.toks[i].text], len(r.toks)-i); n > 0; n-- {
		if v, ok := lexicon[phrase(r.toks[i:i+n])][what]; ok {
			return v, n, true
		}
	}
	return "", 0, false
}

// value is as for roles whose values are numbers.
func (r *reader) value(d int, what role) (v, n int, ok bool) {
	s, n, ok := r.as(d, what)
	if ok {
		v, _ = strconv.Atoi(s)
	}
	return v, n, ok
}

// has reports a phrase of that role d tokens on.
func (r *reader) has(d int, what role) bool { _, _, ok := r.as(d, what); return ok }

// skip passes a phrase of that role.
func (r *reader) skip(what role) bool {
	_, n, ok := r.as(0, what)
	r.i += n
	return ok
}
