package config

import (
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the expected messages")

// TestBadFiles reads every file in testdata/bad and compares all its messages with the file beside it.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatal("no files", err)
	}
	for _, f := range files {
		t.Run(strings.TrimSuffix(filepath.Base(f), ".yaml"), func(t *testing.T) {
			text, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			c, err := Parse("house.yaml", text)
			if err == nil {
				t.Fatalf("accepted: %+v", c)
			}
			if all := (Errors{}); !errors.As(err, &all) || len(all.List) == 0 {
				t.Fatalf("got a %T, want Errors", err)
			}
			got := err.Error() + "\n"
			golden := strings.TrimSuffix(f, ".yaml") + ".want"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("got\n%swant\n%s", got, want)
			}
		})
	}
}
