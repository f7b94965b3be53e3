package entry

import (
	"unicode"
	"unicode/utf8"
)

type kind uint8

const (
	number kind = iota // digits with separators between them: 61.4, 1.234,5, 24.11.2026
	word
	sign // any single other character
)

type token struct {
	kind  kind
	text  string
	glued bool // nothing between it and the token before
}

// lex cuts normal text into tokens. Spaces separate and are dropped, and so are apostrophes between letters.
func lex(s string) []token {
	toks := make([]token, 0, 16)
	glued := false
	for i := 0; i < len(s); {
		r, n := utf8.DecodeRuneInString(s[i:])
		switch {
		case unicode.IsSpace(r), r == '\'' && letterAt(s, i+1):
			glued = false
			i += n
			continue
		case isDigit(s, i), r == '.' && isDigit(s, i+1) && !isDigit(s, i-1):
			n = numberLen(s[i:])
			toks = append(toks, token{number, s[i : i+n], glued})
		case unicode.IsLetter(r):
			n = wordLen(s[i:])
			toks = append(toks, token{word, s[i : i+n], glued})
		default:
			toks = append(toks, token{sign, s[i : i+n], glued})
		}
		glued = true
		i += n
	}
	return toks
}

func isDigit(s string, i int) bool { return i >= 0 && i < len(s) && '0' <= s[i] && s[i] <= '9' }

// numberLen is the length of the number at the start of s. A separator belongs to it only between digits.
func numberLen(s string) int {
	i := 0
	for i < len(s) {
		n := separatorLen(s[i:])
		switch {
		case isDigit(s, i):
			i++
		case n > 0 && isDigit(s, i+n) && (s[i] != '\'' && n == 1 || threeDigits(s[i+n:])):
			i += n
		default:
			return i
		}
	}
	return i
}

// separatorLen is the length of a separator inside a number at the start of s, 0 if there is none.
func separatorLen(s string) int {
	switch r, n := utf8.DecodeRuneInString(s); r {
	case '.', ',', '\'', space:
		return n
	}
	return 0
}

func threeDigits(s string) bool {
	return isDigit(s, 0) && isDigit(s, 1) && isDigit(s, 2) && !isDigit(s, 3)
}

func wordLen(s string) int {
	for i, r := range s {
		if !unicode.IsLetter(r) {
			return i
		}
	}
	return len(s)
}

func letterAt(s string, i int) bool {
	r, _ := utf8.DecodeRuneInString(s[i:])
	return unicode.IsLetter(r)
}
