//go:build unix

package config

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// TestTokenInNoPlainFile: what has no end, or does not begin before somebody writes, is refused at once.
func TestTokenInNoPlainFile(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{"/dev/zero": "it is a device", pipe: "it is a pipe"} {
		if _, err := (SecretSource{File: path}).Read(os.Getenv); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", path, err, want)
		}
	}
}

func TestExposed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "token")
	for mode, want := range map[os.FileMode]bool{0o600: false, 0o640: false, 0o644: true} {
		if err := os.WriteFile(path, []byte("tok"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		if got := (SecretSource{File: path}).Exposed(); got != want {
			t.Errorf("%o: %v", mode, got)
		}
	}
}
