package main

import (
	"flag"
	"os"
	"os/signal"
	"syscall"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// childEnv tells the test binary to be the program.
const childEnv = "TAREBELL_TEST_RUN"

var update = flag.Bool("update", false, "rewrite what the scripts expect")

func TestMain(m *testing.M) {
	if os.Getenv(childEnv) != "" {
		main()
	}
	signal.Notify(make(chan os.Signal, 1), syscall.SIGHUP) // else under nohup the program, which honours that, would hear no hangup in its tests
	testscript.Main(m, map[string]func(){"bot": main})
}

// TestScripts runs the program as people do; each script in testdata reads like a session at a terminal.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", UpdateScripts: *update})
}
