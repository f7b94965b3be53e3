package config

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"gopkg.in/yaml.v3"
)

// editor is the JSON Schema as an independent validator reads it.
func editor(t *testing.T) *jsonschema.Schema {
	t.Helper()
	text, err := JSONSchema()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("config.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("config.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// judged is what the schema says of a config file.
func judged(t *testing.T, s *jsonschema.Schema, path string) error {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var doc any
	if err := yaml.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	return s.Validate(doc)
}

// TestEditorTakesWhatIsGood: no editor marks a good config.
func TestEditorTakesWhatIsGood(t *testing.T) {
	s := editor(t)
	files, err := filepath.Glob("testdata/good/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	for _, f := range files {
		if err := judged(t, s, f); err != nil {
			t.Errorf("%s: %v", f, err)
		}
	}
}

// TestEditorMarksWhatIsBad: keys that are unknown, missing or of the wrong shape are marked, at every depth.
func TestEditorMarksWhatIsBad(t *testing.T) {
	s := editor(t)
	for file, wants := range map[string][]string{
		"unknown-at-every-depth": nil, "missing-everything": {"missing propert"}, "missing-in-groups": {"missing propert"},
		"wrong-shapes": {"want object"}, "wrong-shapes-inside": {"want object"}, "empty-cylinders": {"minItems"}, "a-list": {"want object"},
	} {
		err := judged(t, s, "testdata/bad/"+file+".yaml")
		if err == nil {
			t.Errorf("%s passes", file)
			continue
		}
		if file == "unknown-at-every-depth" {
			wants = unknownKeys(t, file)
		}
		for _, want := range wants {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: no word of %s in %v", file, want, err)
			}
		}
	}
}

// unknownKeys are the paths at which Parse finds unknown keys, as the validator writes them.
func unknownKeys(t *testing.T, file string) (keys []string) {
	t.Helper()
	b, err := os.ReadFile("testdata/bad/" + file + ".want")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(b)) {
		parts := strings.SplitN(line, ": ", 3)
		if len(parts) == 3 && strings.HasPrefix(parts[2], "unknown key") {
			keys = append(keys, "'"+parts[1][strings.LastIndex(parts[1], ".")+1:]+"'")
		}
	}
	if len(keys) < 5 {
		t.Fatalf("%s holds only %d unknown keys", file, len(keys))
	}
	return keys
}
