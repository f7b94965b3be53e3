package entry

import (
	"regexp"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// space is what stands for a no-break, thin or figure space: a space, or a separator of thousands.
const space = '\u00a0'

// signs are replaced by plain ones, and vulgar fractions (Unicode: U+00BC to U+00BE, U+215B to U+215E) spelt out.
var signs = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
	"−", "-", "–", "-", "—", "-", "‐", "-", "‑", "-", "’", "'", "‘", "'", "ʼ", "'", "´", "'", "`", " ",
	"٫", ".", "٬", "'", "·", ".", "⁄", "/", "≈", "~", "∼", "~", "\u202f", "\u00a0", "\u2009", "\u00a0", "\u2007", "\u00a0")

// markup is what a chat lays over words: what is struck through, quoted, a link, or a mention.
var markup = regexp.MustCompile(`~~[^~]*~~|(?m:^\s*>.*$)|<(?:[@#/!&:]|a:|t:|id:)[^<>]*>|https?://\S+`)

// normal is s in small letters without markup and accents, with compatibility forms, digits of all scripts and
// typographic signs replaced by plain ones.
func normal(s string) string {
	s = markup.ReplaceAllString(s, " ")
	parts := strings.Split(signs.Replace(s), string(space)) // a no-break space would become a plain one
	for i, p := range parts {
		parts[i] = strings.Map(plain, norm.NFKD.String(p))
	}
	return single(strings.Join(parts, string(space)))
}

// single is s with one decimal sign where a finger struck twice: "24..6".
func single(s string) string {
	for i := 1; i+2 < len(s); i++ {
		if (s[i] == '.' || s[i] == ',') && s[i+1] == s[i] && isDigit(s, i-1) && isDigit(s, i+2) {
			s = s[:i] + s[i+1:]
		}
	}
	return s
}

// plain is r in lower case and its digit if it is one.
func plain(r rune) rune {
	switch {
	case r < 0x80:
		return unicode.ToLower(r)
	case unicode.Is(unicode.Nd, r):
		return '0' + digit(r)
	case unicode.Is(unicode.Cf, r), unicode.Is(unicode.Mn, r):
		return -1 // joiners, direction marks, emoji selectors, accents
	case r == '⁄':
		return '/'
	case r == '−':
		return '-'
	}
	return unicode.ToLower(r)
}

// digit is the value of a decimal digit: in every block of Nd the digits stand in order, ten by ten.
func digit(r rune) rune {
	n := rune(0)
	for unicode.Is(unicode.Nd, r-n-1) {
		n++
	}
	return n % 10
}
