package chat

import (
	"strings"
	"unicode"
)

// Plain drops from text what cannot be seen but changes how the rest is read: control and formatting characters
// that could move a cursor, change colours or turn the reading direction become a blank or vanish. Line ends stay;
// what is not UTF-8 is marked as such.
func Plain(s string) string {
	s = strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r == '\t', r == '\r', r == '\u2028', r == '\u2029':
			return ' '
		case r == '\u200d', r == '\u200c': // joiners: part of emoji and of some scripts
			return r
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, s)
}

// OneLine is Plain without line ends.
func OneLine(s string) string { return strings.Join(strings.Fields(Plain(s)), " ") }

// FileName is s with nothing but letters, digits, dots and dashes, not too long, and "" if nothing is left: a platform
// keeps it as it is, and it can neither leave its folder nor hide in it.
func FileName(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '-':
			return r
		}
		return '-'
	}, s)
	s = strings.Trim(s, ".-")
	return s[max(0, len(s)-80):]
}
