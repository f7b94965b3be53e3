package entry

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// space is what stands for a no-break, thin or figure space: a space, or a separator of thousands.
const space = '\u00a0'

// fractions are the vulgar fractions people can type (Unicode: U+00BC to U+00BE and U+2150 to U+215E).
var fractions = map[rune]string{
	'½': " 1/2", '¼': " 1/4", '¾': " 3/4", '⅓': " 1/3", '⅔': " 2/3",
	'⅛': " 1/8", '⅜': " 3/8", '⅝': " 5/8", '⅞': " 7/8",
}

// like maps signs to the ones the lexer knows.
var like = map[rune]rune{
	'−': '-', '–': '-', '—': '-', '‐': '-', '‑': '-',
	'’': '\'', '‘': '\'', 'ʼ': '\'', '´': '\'', '`': '*',
	'٫': '.', '٬': '\'', '·': '.', '⁄': '/', '≈': '~', '∼': '~',
	'\u00a0': space, '\u202f': space, '\u2009': space, '\u2007': space,
}

// normal is s in lower case, with compatibility forms, digits of all scripts and typographic signs replaced
// by plain ones.
func normal(s string) string {
	if isASCII(s) {
		return single(strings.ToLower(s))
	}
	var b strings.Builder
	for _, r := range s {
		if f, ok := fractions[r]; ok {
			b.WriteString(f)
		} else if l, ok := like[r]; ok {
			b.WriteRune(l)
		} else {
			b.WriteRune(r)
		}
	}
	// A no-break space would become a plain one.
	parts := strings.Split(b.String(), string(space))
	for i, p := range parts {
		parts[i] = strings.Map(plain, norm.NFKC.String(p))
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
		return -1 // joiners, direction marks, emoji selectors
	}
	if l, ok := like[r]; ok {
		return l
	}
	return unicode.ToLower(r)
}

// digit is the value of a decimal digit: in every block of Nd the digits stand in order, ten by ten.
func digit(r rune) rune {
	for _, b := range unicode.Nd.R16 {
		if rune(b.Lo) <= r && r <= rune(b.Hi) {
			return (r - rune(b.Lo)) % 10
		}
	}
	for _, b := range unicode.Nd.R32 {
		if rune(b.Lo) <= r && r <= rune(b.Hi) {
			return (r - rune(b.Lo)) % 10
		}
	}
	return 0
}

func isASCII(s string) bool {
	for i := range len(s) {
		if s[i] >= 0x80 {
			return false
		}
	}
	return true
}
