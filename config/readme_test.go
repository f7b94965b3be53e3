package config

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// TestReadmeKeys: the table of keys in README.md is the schema. -update rewrites it.
func TestReadmeKeys(t *testing.T) {
	const file, from, end = "../README.md", "<!-- keys -->\n", "<!-- end -->"
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	before, rest, ok := strings.Cut(string(b), from)
	table, after, ended := strings.Cut(rest, end)
	if !ok || !ended {
		t.Fatal("README.md has no part “keys”")
	}
	var want strings.Builder
	want.WriteString("| key | what | example | if left out |\n| --- | --- | --- | --- |\n")
	for _, k := range keys() {
		absent := k.def
		if k.need {
			absent = "**needed**"
		}
		fmt.Fprintf(&want, "| `%s` | %s | `%s` | %s |\n", k.path, k.want, k.example, absent)
	}
	switch {
	case table == want.String():
	case *update:
		if err := os.WriteFile(file, []byte(before+from+want.String()+end+after), 0o644); err != nil {
			t.Fatal(err)
		}
	default:
		t.Error("README.md differs from the schema; run go test ./config -update and review")
	}
}

// keyAt is a key with its whole path.
type keyAt struct {
	path string
	key
}

// keys lists every key of the config, sorted by group and in the order in which they are explained.
func keys() (out []keyAt) {
	for _, g := range groups() {
		for _, k := range schema[g] {
			out = append(out, keyAt{strings.TrimPrefix(g+"."+k.name, "."), k})
		}
	}
	return out
}
