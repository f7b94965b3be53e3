package main

import (
	"debug/buildinfo"
	"debug/elf"
	"debug/pe"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// parses reports what the command line says of the arguments of the program.
func parses(args ...string) error {
	p, err := kong.New(&program{}, kong.Vars{"config_help": ""}, kong.Exit(func(int) {}))
	if err == nil {
		_, err = p.Parse(args)
	}
	return err
}

// option is the value of a key of a unit file, "" without it.
func option(unit, key string) string {
	if m := regexp.MustCompile(`(?m)^` + key + `=(.*)$`).FindStringSubmatch(unit); m != nil {
		return m[1]
	}
	return ""
}

// TestUnit: the service unit starts the program as it can be started, with its ledger where systemd lets it write, and at the places
// that README.md names.
func TestUnit(t *testing.T) {
	b, err := os.ReadFile("deploy/tarebell.service")
	if err != nil {
		t.Fatal(err)
	}
	unit := string(b)
	args := strings.Fields(option(unit, "ExecStart"))
	if err := parses(args[1:]...); err != nil {
		t.Errorf("ExecStart: %v", err)
	}
	if data := args[slices.Index(args, "--data")+1]; data != "/var/lib/"+option(unit, "StateDirectory") {
		t.Errorf("the ledger is in %s, and systemd lets it write into /var/lib/%s", data, option(unit, "StateDirectory"))
	}
	text, err := os.ReadFile(readme)
	if err != nil {
		t.Fatal(err)
	}
	config := args[slices.Index(args, "--config")+1]
	for _, want := range []string{filepath.Dir(args[0]), filepath.Base(config), strings.TrimPrefix(option(unit, "EnvironmentFile"), "-"), "bot/deploy/tarebell.service"} {
		if !strings.Contains(string(text), "`"+want+"`") {
			t.Errorf("README.md does not name %s", want)
		}
	}
	if filepath.Dir(config) != filepath.Dir(args[0]) {
		t.Errorf("%s and %s are in two folders, README.md knows one", config, args[0])
	}
}

// TestUnitIsKnownToSystemd: where systemd is at hand it knows every option, and finds little to do from outside.
func TestUnitIsKnownToSystemd(t *testing.T) {
	tool, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("no systemd-analyze here")
	}
	out, err := exec.Command(tool, "security", "--offline=true", "--threshold=25", "deploy/tarebell.service").CombinedOutput()
	if err != nil || strings.Contains(string(out), "Unknown") {
		t.Errorf("%v\n%s", err, out)
	}
	out, _ = exec.Command(tool, "verify", "--man=no", "deploy/tarebell.service").CombinedOutput() // the program is not in its place here
	for line := range strings.Lines(string(out)) {
		if strings.Contains(line, "tarebell.service:") && !strings.Contains(line, "is not executable") {
			t.Error(line)
		}
	}
}

// TestContainer: the recipe starts the program as it can be started, and copies what it is built from.
func TestContainer(t *testing.T) {
	b, err := os.ReadFile("deploy/Containerfile")
	if err != nil {
		t.Fatal(err)
	}
	recipe := string(b)
	var args []string
	cmd := regexp.MustCompile(`(?m)^CMD (\[.*\])$`).FindStringSubmatch(recipe)
	if cmd == nil || json.Unmarshal([]byte(cmd[1]), &args) != nil {
		t.Fatal("no CMD as a JSON list")
	}
	if err := parses(args...); err != nil {
		t.Errorf("CMD: %v", err)
	}
	if data := args[slices.Index(args, "--data")+1]; !strings.Contains(recipe, "\nVOLUME "+data+"\n") || !strings.Contains(recipe, " /root/out"+data+" ") {
		t.Errorf("%s is no volume that its user may write", data)
	}
	for _, m := range regexp.MustCompile(`(?m)^COPY ([a-z][a-z. ]*) \S+$`).FindAllStringSubmatch(recipe, -1) {
		for _, name := range strings.Fields(m[1]) {
			if _, err := os.Stat(filepath.Join("..", name)); err != nil {
				t.Errorf("COPY: %v", err)
			}
		}
	}
	version := regexp.MustCompile(`(?m)^FROM .*golang:(\S+) AS`).FindStringSubmatch(recipe)
	mod, err := os.ReadFile("../go.mod")
	if err != nil {
		t.Fatal(err)
	}
	if version == nil || !strings.Contains(string(mod), "\ngo "+version[1]) {
		t.Errorf("the recipe builds with Go %q, go.mod wants another", version)
	}
}

// TestLinkage: a program that is handed out needs nothing that is not in it, says what it was built from, and holds no module whose
// licence is for no software. .ci/build names the folder.
func TestLinkage(t *testing.T) {
	dir := os.Getenv("TAREBELL_BINARIES")
	if dir == "" {
		t.Skip("TAREBELL_BINARIES names no folder of programs; .ci/build makes one")
	}
	files, err := filepath.Glob(filepath.Join(dir, "tarebell-*"))
	if err != nil || len(files) == 0 {
		t.Fatal("no programs", err)
	}
	names, err := licenceNames()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		info, err := buildinfo.ReadFile(f)
		if err != nil {
			t.Errorf("%s: %v", f, err)
			continue
		}
		for _, m := range info.Deps {
			if n := names[m.Path]; n == "" || strings.Contains(n, "CC-") {
				t.Errorf("%s: %s is under %q", filepath.Base(f), m.Path, n)
			}
		}
		for _, s := range info.Settings {
			if s.Key == "CGO_ENABLED" && s.Value != "0" {
				t.Errorf("%s is built with cgo", filepath.Base(f))
			}
		}
		switch {
		case strings.Contains(f, "-linux-"):
			selfContained(t, f)
		case strings.HasSuffix(f, ".exe"):
			windows(t, f)
		}
	}
}

// selfContained wants an ELF file without interpreter and without libraries.
func selfContained(t *testing.T, path string) {
	t.Helper()
	f, err := elf.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP || p.Type == elf.PT_DYNAMIC {
			t.Errorf("%s has a segment %v", filepath.Base(path), p.Type)
		}
	}
	if libs, err := f.ImportedLibraries(); err != nil || len(libs) > 0 {
		t.Errorf("%s needs %v (%v)", filepath.Base(path), libs, err)
	}
}

// windows wants a PE file that needs only what each Windows has.
func windows(t *testing.T, path string) {
	t.Helper()
	f, err := pe.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	symbols, err := f.ImportedSymbols()
	if err != nil || len(symbols) == 0 {
		t.Errorf("%s: no imports (%v)", filepath.Base(path), err)
	}
	for _, s := range symbols {
		if _, lib, _ := strings.Cut(s, ":"); !strings.EqualFold(lib, "kernel32.dll") {
			t.Errorf("%s needs %s", filepath.Base(path), s)
		}
	}
}
