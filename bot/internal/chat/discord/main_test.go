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

func checked() (ok bool) {
	if testing.Short() {
		fmt.Println("requests not checked against Discord's description: -short")
		return true
	}
	path, err := findDescription()
	if err != nil {
		fmt.Println("SKIPPED: requests not checked against Discord's description:", err)
		return true
	}
	r, err := noted.check(path)
	if err != nil {
		fmt.Println("checking requests against Discord's description:", err)
		return false
	}
	fmt.Println("checked against Discord's description:", r)
	for _, f := range r.Failures[:min(len(r.Failures), 20)] {
		fmt.Println("REFUSED:", f)
	}
	return len(r.Failures) == 0
}
