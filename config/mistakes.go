package config

import (
	"fmt"
	"slices"
	"strings"

	"tarebell/forecast/unit/mistake"
)

// Errors is everything wrong in a config file, in file order. It is never empty when returned.
type Errors struct{ mistake.List }

// unknownKey says what to do about a key that does not belong into the group called where.
func unknownKey(where, name string) string {
	if name != "" && '0' <= name[0] && name[0] <= '9' {
		return "not a key but the rest of a number: between braces a comma ends a value; write the decimals with a point"
	}
	known := names(schema[where])
	if near, ok := mistake.Nearest(name, known); ok {
		return fmt.Sprintf("unknown key; did you mean %s?", near)
	}
	for _, g := range groups() {
		if g != where && len(name) > 3 && slices.Contains(names(schema[g]), name) {
			return fmt.Sprintf("unknown key; %s belongs %s", name, place(g))
		}
	}
	return "unknown key; use " + mistake.Join(known, "or")
}

func place(group string) string {
	if group == "" {
		return "at the top level"
	}
	return "under " + strings.ReplaceAll(group, "[]", "")
}
