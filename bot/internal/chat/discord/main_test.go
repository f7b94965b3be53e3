package discord_test

import (
	"flag"
	"fmt"
	"os"
	"testing"
)

var noted checker

// TestMain checks what the tests made the bot send, after they have run. With -short that is left out, as
// compiling the description takes longer than the tests.
func TestMain(m *testing.M) {
	flag.Parse()
	if err := flag.Set("test.parallel", "16"); err != nil { // most of the time is spent waiting
		fmt.Fprintln(os.Stderr, err)
	}
	code := m.Run()
	if !checked() {
		code = max(code, 1)
	}
	os.Exit(code)
}
