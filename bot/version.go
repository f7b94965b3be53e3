package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
)

// versionCommand says what this program was built from.
type versionCommand struct{}

func (versionCommand) Run(w *world) error {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return fmt.Errorf("this program was built without saying of what")
	}
	fmt.Fprintln(w.out, version(info))
	return nil
}

// version is one line: the version of the module, the commit if Go knew it, and what it was built with and for.
func version(info *debug.BuildInfo) string {
	set := map[string]string{}
	for _, s := range info.Settings {
		set[s.Key] = s.Value
	}
	line := "tarebell " + info.Main.Version
	if rev := set["vcs.revision"]; rev != "" {
		line += fmt.Sprintf(" (commit %.12s of %s", rev, set["vcs.time"])
		if set["vcs.modified"] == "true" {
			line += ", changed since"
		}
		line += ")"
	}
	return fmt.Sprintf("%s, %s, %s/%s", line, info.GoVersion, runtime.GOOS, runtime.GOARCH)
}
