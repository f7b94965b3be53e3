package entry

import (
	"bufio"
	"os"
	"strings"
	"testing"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// asWanted is a reading as testdata/said.txt has it.
func asWanted(r Reading, ctx Context) (outcome, text string) {
	switch r := r.(type) {
	case Understood:
		return "noted", briefly(r, ctx)
	case Reported:
		text = "! " + string(r.State)
		if r.Cylinder != "" && len(ctx.Cylinders) > 1 {
			text += " " + r.Cylinder
		}
		return "asked for the state", text
	case Doubtful:
		text = "?"
		if len(r.Candidates) > 0 {
			text += " " + briefly(r.Candidates[0], ctx)
		}
		return "asked back", text
	}
	return "left alone", "-"
}

// TestSaid goes through testdata/said.txt, which says what is wanted.
func TestSaid(t *testing.T) {
	file, err := os.ReadFile("testdata/said.txt")
	if err != nil {
		t.Fatal(err)
	}
	home := contexts(t)["home"]
	home.Cylinders[0].Last, home.Cylinders[0].LastAt = unit.Kilograms(22.1), home.Now.AddDate(0, 0, -2)
	two := home
	main := home.Cylinders[0]
	main.Spare, main.Last = true, unit.Kilograms(22.1)
	two.Cylinders = []Cylinder{{Cylinder: record.Cylinder{Name: "second", Tare: unit.Kilograms(15.2), NetFill: unit.Kilograms(25.2) - unit.Kilograms(15.2)}, Last: unit.Kilograms(22.1), LastAt: home.Now.AddDate(0, 0, -2)}, main}
	ctx, language, n, talk := home, "", 0, 0
	counts := map[string]int{}
	for sc := bufio.NewScanner(strings.NewReader(string(file))); sc.Scan(); {
		input, want, isCase := strings.Cut(sc.Text(), " => ")
		if strings.HasPrefix(input, "[") {
			language = input
			if language == "[two]" {
				ctx = two
			}
		}
		if !isCase {
			continue
		}
		n++
		if want == "-" {
			talk++
		}
		outcome, got := asWanted(Parse(input, ctx), ctx)
		counts[outcome]++
		if got != want && (want != "?" || outcome != "asked back") {
			t.Errorf("%s %q: %s, want %s", language, input, got, want)
		}
	}
	t.Logf("%d messages: %v", n, counts)
	if n < 500 || talk < n*2/5 {
		t.Errorf("%d messages, %d of them talk", n, talk)
	}
}
