package main

import (
	"fmt"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/licensecheck"
)

// targets are what the program is built for; which modules are in it depends on the system and the tags.
var targets = []struct{ os, arch, tags string }{
	{"linux", "amd64", "minimal"}, {"linux", "amd64", ""}, {"darwin", "arm64", "minimal"}, {"windows", "amd64", "minimal"},
}

// allowed are the licences that let a program go out under the MIT licence with their notices, by their names at https://spdx.org/licenses;
// GooglePatentsFile grants more. CC-BY-4.0, meant for no software, is that of a drawing back end which the tag minimal leaves out.
var allowed = strings.Fields("MIT BSD-2-Clause BSD-3-Clause Apache-2.0 FTL OFL-1.1 CC-BY-4.0 GooglePatentsFile " + publicDomain)

const publicDomain = "LicenseRef-public-domain"

// elsewhere are licences that a module names as those of things that are not compiled into anything.
var elsewhere = map[string]string{"modernc.org/sqlite": "MPL-2.0"} // its LICENSE-3RD-PARTY.md, section 3

// notices are the files of a module that go along.
var notices = regexp.MustCompile(`(?i)^(licen[sc]e|copying|notice|patents|unlicense|ftl)`)

// TestLicences: each module in the program has a licence that lets it be there, and its texts go along. -update takes the texts anew.
func TestLicences(t *testing.T) {
	dirs := modules(t)
	names, err := licenceNames()
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]byte{}
	var list strings.Builder
	for _, m := range slices.Sorted(maps.Keys(dirs)) {
		var found []string
		for _, f := range noticesOf(t, m, dirs[m]) {
			b, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			want[filepath.Join("licences", filepath.FromSlash(m), filepath.Base(f))] = b
			found = append(found, named(b)...)
		}
		slices.Sort(found)
		found = slices.DeleteFunc(slices.Compact(found), func(id string) bool { return id == elsewhere[m] })
		for _, id := range found {
			if !slices.Contains(allowed, id) {
				t.Errorf("%s is under %s, which nobody has looked at", m, id)
			}
		}
		if len(found) == 0 {
			t.Errorf("%s has no licence that is known", m)
		}
		fmt.Fprintln(&list, m, strings.Join(found, " "))
		if names[m] != strings.Join(found, " ") && !*update {
			t.Errorf("%s is under %q, and bot licences says %q; run go test ./bot -run Licences -update and review", m, found, names[m])
		}
	}
	want[filepath.Join("licences", "names.txt")] = []byte(list.String())
	if *update {
		rewrite(t, want)
	}
	n := 0
	filepath.WalkDir("licences", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		n++
		if filepath.Dir(p) == filepath.Join("licences", goModule) {
			return nil // as of another Go it may read a little otherwise
		}
		if b, err := os.ReadFile(p); err != nil || string(b) != string(want[p]) {
			t.Errorf("%s is not what the modules have (%v)", p, err)
		}
		return nil
	})
	if n != len(want) {
		t.Errorf("%d texts go along, want %d", n, len(want))
	}
}

// modules are those in the program on any target, with their folders.
func modules(t *testing.T) map[string]string {
	t.Helper()
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	dirs := map[string]string{"tarebell": "..", goModule: strings.TrimSpace(string(root))}
	for _, on := range targets {
		c := exec.Command("go", "list", "-deps", "-tags", on.tags, "-f", "{{with .Module}}{{if not .Main}}{{.Path}} {{.Dir}}{{end}}{{end}}", ".")
		c.Env = append(os.Environ(), "GOOS="+on.os, "GOARCH="+on.arch, "CGO_ENABLED=0")
		out, err := c.Output()
		if err != nil {
			t.Fatalf("go list for %s: %v", on.os, err)
		}
		for line := range strings.Lines(string(out)) {
			if m, dir, ok := strings.Cut(strings.TrimSpace(line), " "); ok {
				dirs[m] = dir
			}
		}
	}
	return dirs
}

// noticesOf are the files of a module that go along. Of the two licences of Freetype-Go the FreeType Licence is chosen; its folder also
// has the other.
func noticesOf(t *testing.T, module, dir string) (files []string) {
	t.Helper()
	where := []string{dir}
	if module == "github.com/golang/freetype" {
		where = append(where, filepath.Join(dir, "licenses"))
	}
	for _, d := range where {
		list, err := os.ReadDir(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range list {
			if !f.IsDir() && notices.MatchString(f.Name()) {
				files = append(files, filepath.Join(d, f.Name()))
			}
		}
	}
	return files
}

// named are the licences that a text holds, as google/licensecheck knows them; it does not know SQLite's words.
func named(text []byte) (ids []string) {
	if strings.HasPrefix(string(text), "SQLite Is Public Domain") {
		return []string{publicDomain}
	}
	for _, m := range licensecheck.Scan(text).Match {
		if !m.IsURL {
			ids = append(ids, m.ID)
		}
	}
	return ids
}

func rewrite(t *testing.T, want map[string][]byte) {
	t.Helper()
	if err := os.RemoveAll("licences"); err != nil {
		t.Fatal(err)
	}
	for p, b := range want {
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
