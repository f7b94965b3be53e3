package chart

import (
	"os"
	"path/filepath"
	"testing"
)

// TestLook writes every sample to the folder named by CHART_DIR, to be looked at.
func TestLook(t *testing.T) {
	dir := os.Getenv("CHART_DIR")
	if dir == "" {
		t.Skip("set CHART_DIR to a folder to look at the pictures")
	}
	for name, draw := range samples() {
		png, err := draw()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
			t.Error(err)
		}
	}
}
