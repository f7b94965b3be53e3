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
	for name, want := range map[string]string{"notice": noticePart(t), "commands": commandPart()} {
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

// TestReadmeConfig: the config that README.md starts from is one that runs, and so is it with the parts that README.md adds.
func TestReadmeConfig(t *testing.T) {
	b, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	var parts []string
	for _, m := range regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllStringSubmatch(string(b), -1) {
		parts = append(parts, m[1])
	}
	if len(parts) != 4 {
		t.Fatalf("README.md shows %d parts of a config, want the first, the channel, the scale and where to listen", len(parts))
	}
	indent := regexp.MustCompile(`(?m)^   `)
	first, channel, scale, listen := indent.ReplaceAllString(parts[0], ""), indent.ReplaceAllString(parts[1], ""), parts[2], parts[3]
	for _, text := range []string{first, first + channel, first + scale + channel, first + scale + channel + listen} {
		cfg, err := config.Parse("README.md", []byte(text))
		if err != nil {
			t.Fatalf("%v in\n%s", err, text)
		}
		if _, err := app.Household(cfg); err != nil {
			t.Fatal(err)
		}
	}
}
