package discord

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tarebell/bot/internal/chat"
)

// Discord's documentation (reference, message formatting) lists the forms of mentions and time stamps; the
// Markdown is what its help page "Markdown Text 101" shows.
func TestEscape(t *testing.T) {
	for in, want := range map[string]string{
		"6.4 kg":                "6.4 kg",
		"-3 °C":                 "-3 °C",
		"#1":                    "#1",
		"Ben's":                 "Ben's",
		"14:05, 50 %":           "14:05, 50 %",
		"*a* _b_ ~~c~~ ||d||":   `\*a\* \_b\_ \~\~c\~\~ \|\|d\|\|`,
		"`x`":                   "\\`x\\`",
		`a\b`:                   `a\\b`,
		"# a":                   `\# a`,
		"### a":                 `\### a`,
		"-# a":                  `\-# a`,
		"- a\n- b":              "\\- a\n\\- b",
		"  - a":                 `  \- a`,
		"12. a":                 `12\. a`,
		"1) a":                  `1\) a`,
		"> a":                   `\> a`,
		"<@1> <@&2> <#3>":       `\<@1\> \<@&2\> \<\#3\>`,
		"<t:1:R> </gas:4>":      `\<t:1:R\> \</gas:4\>`,
		"[a](http://x.example)": `\[a\](http://x.example)`,
		"@everyone @Here @anna": "@\u200beveryone @\u200bHere @anna",
		"a\x00b\u202ec\td\r\ne": "abc d\ne",
		"a\xff":                 "a\uFFFD",
	} {
		if want = strings.ReplaceAll(want, `\#3`, "#3"); escape(in) != want {
			t.Errorf("escape(%q) = %q; want %q", in, escape(in), want)
		}
	}
}

func TestSplit(t *testing.T) {
	for _, tt := range []struct {
		rule, in string
		limits   []int
		want     []string
	}{
		{"fits", "abc", []int{3}, []string{"abc"}},
		{"at a line end", "abcdef\nghi jkl", []int{10, 10}, []string{"abcdef", "ghi jkl"}},
		{"at a blank", "abcdef ghi jkl", []int{10, 10}, []string{"abcdef ghi", "jkl"}[:2]},
		{"in a word", "abcdefghijkl", []int{5, 10}, []string{"abcde", "fghijkl"}},
		{"the rest is left out", "abcdefghijkl", []int{5, 5}, []string{"abcde", "fghi…"}},
		{"not within an escape", `abc\*def`, []int{4, 10}, []string{"abc", `\*def`}},
		{"but after an escaped backslash", `ab\\def`, []int{4, 10}, []string{`ab\\`, "def"}},
		{"not within a character", "abe\u0301f", []int{3, 10}, []string{"ab", "e\u0301f"}},
		{"no room", "abc", []int{0, 3}, nil},
	} {
		got := split(tt.in, tt.limits...)
		if strings.Join(got, "|") != strings.Join(tt.want, "|") {
			t.Errorf("%s: split(%q, %v) = %q; want %q", tt.rule, tt.in, tt.limits, got, tt.want)
		}
	}
}

func TestSplitKeepsItsLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := escape(rapid.String().Draw(t, "s"))
		limits := rapid.SliceOfN(rapid.IntRange(1, 30), 1, 4).Draw(t, "limits")
		for i, p := range split(s, limits...) {
			if n := utf8.RuneCountInString(p); n > limits[i] || !utf8.ValidString(p) {
				t.Fatalf("part %q of %d characters; want at most %d", p, n, limits[i])
			}
		}
		if n := rapid.IntRange(0, 50).Draw(t, "n"); utf8.RuneCountInString(cut(s, n)) > n {
			t.Fatalf("cut(%q, %d) = %q", s, n, cut(s, n))
		}
	})
}

func TestInviteLink(t *testing.T) {
	// 117760 = View Channel + Send Messages + Embed Links + Attach Files + Read Message History.
	want := "https://discord.com/oauth2/authorize?client_id=42&permissions=117760&scope=bot+applications.commands"
	if got := InviteLink("42"); got != want {
		t.Errorf("%s; want %s", got, want)
	}
	if id, ok := AppID("MTIzNDU2Nzg5MDEyMzQ1Njc4.x.y"); !ok || id != "123456789012345678" {
		t.Errorf("id %q, %v", id, ok)
	}
	for _, bad := range []string{"", "x", "a.b.c", "!!!.b.c", "aGVsbG8.b.c"} {
		if id, ok := AppID(bad); ok {
			t.Errorf("token %q: id %q", bad, id)
		}
	}
}

// The gaps between attempts to connect, with the defaults. A way that is gone is tried again and again within seconds; a
// link that drops at once after each login is too, until logins get few: then they last until they are renewed.
func TestBackoff(t *testing.T) {
	var b gap
	now := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	for i, want := range []int{1, 2, 4, 8, 16, 20, 20, 20} {
		if got := b.after(try{}, now); got != time.Duration(want)*time.Second {
			t.Errorf("nothing answers, attempt %d: %v; want %d s", i+1, got, want)
		}
	}
	if got := b.after(try{login: now.Add(-9 * time.Minute), held: 9 * time.Minute}, now); got != time.Second {
		t.Errorf("after a connection of nine minutes: %v; want a second", got)
	}
	if got := b.after(try{login: now}, now); got < 5*time.Second {
		t.Errorf("a login that failed at once: %v; the platform takes one in five seconds", got)
	}
	renewal := now.Add(24 * time.Hour)
	left := 1000
	for now.Before(renewal) {
		left--
		if left < 1 {
			t.Fatalf("the logins are used up %v before they are renewed", renewal.Sub(now))
		}
		gap := b.after(try{login: now, quota: quota{left, renewal.Sub(now)}}, now)
		if left > plenty && gap > 20*time.Second {
			t.Errorf("%v to wait with %d logins left", gap, left)
		}
		now = now.Add(gap)
	}
}

func TestRingForgets(t *testing.T) {
	r := newRing(2)
	for _, step := range []struct {
		id  string
		new bool
	}{{"a", true}, {"a", false}, {"b", true}, {"c", true}, {"a", true}, {"c", false}} {
		if got := r.add(step.id); got != step.new {
			t.Errorf("add %s: %v", step.id, got)
		}
	}
	if len(r.in) != 2 {
		t.Errorf("%d ids kept; want 2", len(r.in))
	}
}

func TestCommandRules(t *testing.T) {
	if got, err := commands(nil); err != nil || got == nil {
		t.Errorf("no commands: %v, %v; want an empty list, not null", got, err)
	}
	many := make([]chat.Spec, 101)
	for i := range many {
		many[i] = chat.Spec{Name: fmt.Sprint("c", i)}
	}
	for _, c := range []struct {
		specs []chat.Spec
		want  string
	}{
		{[]chat.Spec{{Name: "Weigh it"}}, `command "Weigh it": the platform takes`},
		{[]chat.Spec{{Name: "weigh", Options: make([]chat.Option, 26)}}, `command "weigh" has 26 options`},
		{[]chat.Spec{{Name: "weigh", Options: []chat.Option{{Name: "How much"}}}}, `option "How much" of command "weigh"`},
		{[]chat.Spec{{Name: "weigh", Options: []chat.Option{{Name: "unit", Choices: make([]chat.Choice, 26)}}}}, "has 26 choices"},
		{many, "101 commands"},
	} {
		if _, err := commands(c.specs); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v; want %q", err, c.want)
		}
	}
	got := choices([]chat.Choice{{Label: "two", Value: "2"}, {Label: "many", Value: "many"}, {Label: "", Value: "3"}}, chat.Number)
	if len(got) != 1 || got[0].Value != 2.0 {
		t.Errorf("choices of a number: %v; want those that are one and can be read", got)
	}
}

func TestGoldenRefusals(t *testing.T) {
	for code := range remedies {
		if code != 4004 && (code < 4010 || code > 4014) {
			t.Errorf("%d is not documented as final", code)
		}
	}
	if len(remedies) != 6 {
		t.Errorf("%d final codes; Discord documents 4004 and 4010 to 4014", len(remedies))
	}
}
