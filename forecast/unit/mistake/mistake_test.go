package mistake

import (
	"errors"
	"strings"
	"testing"
)

func TestErrorLeavesOutWhatIsEmpty(t *testing.T) {
	for want, m := range map[string]Mistake{
		"w.csv:3:7: gross_kg: \"x\": want kg": {File: "w.csv", Line: 3, Col: 7, Path: "gross_kg", Read: `"x"`, Want: "want kg"},
		"w.csv:3: want kg":                    {File: "w.csv", Line: 3, Want: "want kg"},
		"house.yaml: larger than 1 MiB":       {File: "house.yaml", Want: "larger than 1 MiB"},
	} {
		if got := m.Error(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestListKeepsTheOrderOfTheFile(t *testing.T) {
	l := List{{File: "f", Line: 2, Want: "c"}, {File: "f", Line: 1, Col: 4, Want: "b"}, {File: "f", Line: 1, Col: 2, Want: "a"}, {File: "f", Line: 2, Want: "d"}}
	l.Sort()
	if got := l.Error(); got != "f:1:2: a\nf:1:4: b\nf:2: c\nf:2: d" {
		t.Error(got)
	}
	var one *Mistake
	if !errors.As(error(l), &one) || one != l[0] {
		t.Error(one)
	}
}

func TestQuoteIsBounded(t *testing.T) {
	if got := Quote("a\n" + strings.Repeat("é", 100)); len([]rune(got)) != 60+3 || !strings.HasSuffix(got, `…"`) {
		t.Error(got)
	}
}

func TestJoin(t *testing.T) {
	for want, words := range map[string][]string{"": nil, "a": {"a"}, "a or b": {"a", "b"}, "a, b or c": {"a", "b", "c"}} {
		if got := Join(words, "or"); got != want {
			t.Errorf("%q: %q", words, got)
		}
	}
}

func TestNearest(t *testing.T) {
	words := []string{"tare", "timezone", "water_capacity", "every"}
	for in, want := range map[string]string{
		"tara": "tare", "atre": "tare", "time_zone": "timezone", "Timezone": "timezone", "watercapacity": "water_capacity",
		"water": "water_capacity", "evry": "every", "colour": "", "x": "",
	} {
		got, ok := Nearest(in, words)
		if !ok {
			got = ""
		}
		if got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
