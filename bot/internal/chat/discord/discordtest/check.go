package discordtest

import (
	"slices"
	"strings"
	"unicode/utf16"
)

// units is the length of a text in UTF-16 code units. In which units the platform counts is not documented: its
// description says characters, which are code points (JSON Schema), as did its staff in 2020 (discord-api-docs issue
// 1315). Whoever keeps the limit in these keeps it in both.
func units(s string) int { return len(utf16.Encode([]rune(s))) }

// checkChoice holds the limits of a suggestion.
func checkChoice(i int, c any) *failure {
	o, _ := c.(object)
	name, _ := o["name"].(string)
	if n := units(name); n < 1 || n > 100 {
		return invalid("data.choices[%d].name: %d characters, 1 to 100 are allowed", i, n)
	}
	switch v := o["value"].(type) {
	case string:
		if n := units(v); n < 1 || n > 100 {
			return invalid("data.choices[%d].value: %d characters, 1 to 100 are allowed", i, n)
		}
	case float64:
	default:
		return invalid("data.choices[%d].value: %v", i, v)
	}
	return nil
}

// check holds the limits (Discord documentation: message resource, embed limits; components).
func check(m Message) *failure {
	if n := units(m.Content); n > 2000 {
		return invalid("content: %d characters, 2000 are allowed", n)
	}
	if len(m.Embeds) > 10 {
		return invalid("embeds: %d, 10 are allowed", len(m.Embeds))
	}
	total := 0
	for i, e := range m.Embeds {
		n, f := checkEmbed(i, e, m.Files)
		if f != nil {
			return f
		}
		total += n
	}
	if total > 6000 {
		return invalid("embeds: %d characters together, 6000 are allowed", total)
	}
	return checkRows(m.Components)
}

func checkEmbed(i int, e Embed, files []File) (total int, f *failure) {
	limits := []struct {
		name, text string
		most       int
	}{{"title", e.Title, 256}, {"description", e.Description, 4096}}
	if e.Footer != nil {
		limits = append(limits, struct {
			name, text string
			most       int
		}{"footer", e.Footer.Text, 2048})
	}
	for _, l := range limits {
		n := units(l.text)
		if n > l.most {
			return 0, invalid("embeds[%d].%s: %d characters, %d are allowed", i, l.name, n, l.most)
		}
		total += n
	}
	if e.Image != nil {
		name, local := strings.CutPrefix(e.Image.URL, "attachment://")
		if local && !slices.ContainsFunc(files, func(f File) bool { return f.Name == name }) {
			return 0, invalid("embeds[%d].image: no attachment %q", i, name)
		}
	}
	if total == 0 && e.Image == nil {
		return 0, invalid("embeds[%d]: empty", i)
	}
	return total, nil
}

func checkRows(rows []Component) *failure {
	if len(rows) > 5 {
		return invalid("components: %d rows, 5 are allowed", len(rows))
	}
	ids := map[string]bool{}
	for _, row := range rows {
		if row.Type != 1 || len(row.Components) == 0 || len(row.Components) > 5 {
			return invalid("components: a row holds 1 to 5 buttons, this one %d", len(row.Components))
		}
		for _, b := range row.Components {
			n, l := units(b.CustomID), units(b.Label)
			if b.Type != 2 || n < 1 || n > 100 || l < 1 || l > 80 || b.Style < 1 || b.Style > 5 {
				return invalid("components: button %q (%d) labelled %q (%d)", b.CustomID, n, b.Label, l)
			}
			if ids[b.CustomID] {
				return invalid("components: COMPONENT_CUSTOM_ID_DUPLICATED %q", b.CustomID)
			}
			ids[b.CustomID] = true
		}
	}
	return nil
}
