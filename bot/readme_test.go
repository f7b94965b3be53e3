package main

import (
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/command"
	"tarebell/config"
)

const readme = "../README.md"

// TestReadme: the parts of README.md that repeat the program say what the program says. -update rewrites them.
func TestReadme(t *testing.T) {
	b, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	old := string(b)
	text := old
	for name, want := range map[string]string{"notice": noticePart(t), "commands": commandPart(), "keys": keyPart()} {
		var ok bool
		if text, ok = replacePart(text, name, want); !ok {
			t.Errorf("README.md has no part %q", name)
		}
	}
	if text == old {
		return
	}
	if !*update {
		t.Fatal("README.md differs from the program; run go test ./bot -run Readme -update and review")
	}
	if err := os.WriteFile(readme, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func replacePart(text, name, want string) (string, bool) {
	from := "<!-- " + name + " -->\n"
	i := strings.Index(text, from)
	if i < 0 {
		return text, false
	}
	j := strings.Index(text[i:], "<!-- end -->")
	if j < 0 {
		return text, false
	}
	return text[:i] + from + want + text[i+j:], true
}

// noticePart shows three notices as the golden files have them.
func noticePart(t *testing.T) string {
	var s strings.Builder
	for _, name := range []string{"status", "refill", "leak-slow"} {
		b, err := os.ReadFile("internal/notice/testdata/" + name + ".metric.golden")
		if err != nil {
			t.Fatal(err)
		}
		_, text, _ := strings.Cut(string(b), "\n")
		lines := strings.Split(strings.TrimSpace(text), "\n")
		lines[0] = "**" + lines[0] + "**"
		s.WriteString("> " + strings.Join(lines, "\\\n> ") + "\n\n")
	}
	return s.String()
}

func commandPart() string {
	var s strings.Builder
	s.WriteString("| command | what |\n| --- | --- |\n")
	for _, c := range command.New(command.Options{}).Specs() {
		line := "/" + c.Name
		for _, o := range c.Options {
			name := strings.ToUpper(o.Name)
			if !o.Required {
				name = "[" + name + "]"
			}
			line += " " + name
		}
		fmt.Fprintf(&s, "| `%s` | %s |\n", line, c.Summary)
	}
	return s.String()
}

func keyPart() string {
	var s strings.Builder
	s.WriteString("| key | what | example | if left out |\n| --- | --- | --- | --- |\n")
	for _, k := range config.Keys() {
		absent := k.Default
		if k.Required {
			absent = "**needed**"
		}
		fmt.Fprintf(&s, "| `%s` | %s | `%s` | %s |\n", k.Path, k.What, k.Example, absent)
	}
	return s.String()
}

// TestReadmeConfig: the config that README.md starts from is one that runs.
func TestReadmeConfig(t *testing.T) {
	b, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(b), "```yaml\n")
	text, _, end := strings.Cut(rest, "```")
	if !ok || !end {
		t.Fatal("README.md shows no config")
	}
	text = regexp.MustCompile(`(?m)^   `).ReplaceAllString(text, "")
	cfg, err := config.Parse("README.md", []byte(text))
	if err != nil {
		t.Fatalf("the first config in README.md: %v", err)
	}
	if _, err := app.Household(cfg); err != nil {
		t.Fatal(err)
	}
}
