package terminal

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/rivo/uniseg"
	"pgregory.net/rapid"

	"tarebell/bot/internal/chat"
)

// What typedLine prints, parseOptions reads back.
func TestLineAndBack(t *testing.T) {
	spec := chat.Spec{Name: "weigh", Options: []chat.Option{{Name: "weight"}, {Name: "when"}, {Name: "count", Kind: chat.Number}}}
	rapid.Check(t, func(t *rapid.T) {
		want := map[string]string{}
		for _, o := range spec.Options[:2] {
			if v := rapid.StringMatching(`[^"\x00-\x1f]*`).Draw(t, o.Name); rapid.Bool().Draw(t, "give "+o.Name) && v != "" {
				want[o.Name] = strings.Join(strings.Fields(v), " ")
			}
		}
		if rapid.Bool().Draw(t, "give count") {
			want["count"] = rapid.StringMatching(`[1-9][0-9]{0,5}(\.[1-9])?`).Draw(t, "count")
		}
		line := strings.TrimPrefix(typedLine(spec, want), "/weigh")
		got, err := parseOptions(spec, line)
		if err != nil || !cmp.Equal(want, got) {
			t.Fatalf("%q: %v, %v; want %v", line, got, err, want)
		}
	})
}

func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(strings.Fields(chat.Plain(rapid.String().Draw(t, "text"))), " ")
		width := rapid.IntRange(1, 80).Draw(t, "width")
		lines := wrap(text, 0, width)
		if got := strings.Join(lines, " "); got != text {
			t.Fatalf("%q became %q", text, got)
		}
		for _, l := range lines {
			if strings.Contains(l, " ") && uniseg.StringWidth(l) > width {
				t.Fatalf("%q is wider than %d", l, width)
			}
		}
	})
}
