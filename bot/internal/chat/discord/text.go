package discord

import (
	"regexp"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/rivo/uniseg"

	"tarebell/bot/internal/chat"
)

// escape makes plain words look on the platform as they were written: what would be markup, a mention, a time
// stamp or a masked link is preceded by a backslash; control and direction-changing characters go.
// Line ends stay. The rules are those of Discord's own Markdown (headings, lists and quotes only at the
// beginning of a line); "@everyone" and "@here" get an invisible blank, besides never being allowed to ping.
func escape(s string) string {
	lines := strings.Split(chat.Plain(s), "\n")
	for i, l := range lines {
		lines[i] = escapeLine(l)
	}
	return strings.Join(lines, "\n")
}

func escapeLine(l string) string {
	var b strings.Builder
	text := strings.TrimLeft(l, " ")
	b.WriteString(l[:len(l)-len(text)])
	text = escapeStart(&b, text)
	for i, r := range text {
		if strings.ContainsRune("\\`*_~|<>[]", r) {
			b.WriteByte('\\')
		}
		b.WriteRune(r)
		if r == '@' && callsAll(text[i+1:]) {
			b.WriteRune('\u200b')
		}
	}
	return b.String()
}

func callsAll(s string) bool {
	for _, word := range []string{"everyone", "here"} {
		if len(s) >= len(word) && strings.EqualFold(s[:len(word)], word) {
			return true
		}
	}
	return false
}

// escapeStart writes what has a meaning only at the beginning of a line (headings, small print, lists), and
// returns the rest of it. Without the blank after it none of them has one: "6.4 kg" and "-3 °C" stay as they are.
func escapeStart(b *strings.Builder, text string) string {
	mark := lineStart.FindStringSubmatch(text)
	if mark == nil {
		return text
	}
	b.WriteString(mark[1] + `\` + mark[2])
	return text[len(mark[1])+len(mark[2]):]
}

var lineStart = regexp.MustCompile(`^(\d*)(#{1,3}|-#|[-+]|[.)])(?: |$)`)

// units is the length of a text as its limits are kept here: in UTF-16 code units. The platform's description says
// characters, which are code points (JSON Schema), and so did its staff (discord-api-docs issue 1315, 2020), but not
// for every field; what is short enough in these units is so in code points.
func units(s string) (n int) {
	for _, r := range s {
		n += utf16.RuneLen(r)
	}
	return n
}

// plainName is a name that somebody has given themselves, in one line, and such that it is no link and no invitation
// where it is shown: a blank divides those.
func plainName(s string) string { return linkStart.ReplaceAllString(chat.OneLine(s), "$1$3 $2$4") }

var linkStart = regexp.MustCompile(`(?i)([a-z][a-z0-9+.-]*:)(//)|(discord(?:app)?\.)((?:gg|com)/)`)

// cut shortens s to at most limit units; what is missing is shown by "…".
func cut(s string, limit int) string {
	if units(s) <= limit {
		return s
	}
	if limit < 1 {
		return ""
	}
	head, _ := part(s, limit-1)
	return head + "…"
}

// split divides s into parts of at most the given numbers of characters, at line ends where possible, else at
// blanks. What does not fit into all of them is left out, which "…" shows. Empty parts are not returned.
func split(s string, limits ...int) []string {
	var parts []string
	for i, limit := range limits {
		if s == "" || limit <= 0 {
			break
		}
		if i == len(limits)-1 {
			return append(parts, cut(s, limit))
		}
		var head string
		head, s = part(s, limit)
		parts = append(parts, head)
	}
	return parts
}

// part takes at most limit characters from the front of escaped text, never half an escape or half of a
// character with its accents, and leaves out the blanks or line ends at which it divides.
func part(s string, limit int) (head, rest string) {
	if units(s) <= limit {
		return s, ""
	}
	end, count, line, blank := 0, 0, -1, -1
	for tail, state := s, -1; tail != ""; {
		var c string
		c, tail, _, state = uniseg.FirstGraphemeClusterInString(tail, state)
		n := units(c)
		switch { // a place to divide may be the very next character
		case c == "\n":
			line = end
		case c == " ":
			blank = end
		}
		if count+n > limit {
			break
		}
		end, count = end+len(c), count+n
	}
	switch {
	case line > end/2:
		end = line
	case blank > end/2:
		end = blank
	case end == 0:
		for _, r := range s { // one character of many parts
			if count += utf16.RuneLen(r); count > limit {
				break
			}
			end += utf8.RuneLen(r)
		}
	}
	if back := len(s[:end]) - len(strings.TrimRight(s[:end], `\`)); back%2 == 1 {
		end--
	}
	return strings.TrimRight(s[:end], " \n"), strings.TrimLeft(s[end:], " \n")
}
