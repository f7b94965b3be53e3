package main

import (
	"embed"
	"fmt"
	"io/fs"
	"path"
	"runtime/debug"
	"strings"
	"text/tabwriter"
)

// texts holds, in a folder for each module that may be in the program, what its licence wants to go along with it, and in names.txt what
// these licences are called (https://spdx.org/licenses). go test ./bot -run Licences -update writes all of it.
//
//go:embed all:licences
var texts embed.FS

// licencesCommand tells of the licences.
type licencesCommand struct {
	Text bool `help:"Print the licences and notices themselves."`
}

// goModule stands for what is in every program: the standard library and the runtime of Go.
const goModule = "std"

func (c *licencesCommand) Run(w *world) error {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return fmt.Errorf("this program was built without a list of its modules")
	}
	names, err := licenceNames()
	if err != nil {
		return err
	}
	list := append([]*debug.Module{{Path: info.Main.Path, Version: info.Main.Version}, {Path: goModule, Version: info.GoVersion}}, info.Deps...)
	table := tabwriter.NewWriter(w.out, 0, 0, 2, ' ', 0)
	for _, m := range list {
		name := names[m.Path]
		if name == "" {
			name = "not recorded"
		}
		fmt.Fprintf(table, "%s\t%s\t%s\n", m.Path, m.Version, name)
	}
	if err := table.Flush(); err != nil || !c.Text {
		return err
	}
	for _, m := range list {
		if err := printTexts(w, m.Path); err != nil {
			return err
		}
	}
	return nil
}

func printTexts(w *world, module string) error {
	dir := path.Join("licences", module)
	files, _ := texts.ReadDir(dir)
	for _, f := range files {
		if f.IsDir() { // of a module whose path is longer
			continue
		}
		b, err := texts.ReadFile(path.Join(dir, f.Name()))
		if err != nil {
			return err
		}
		fmt.Fprintf(w.out, "\n\n---- %s: %s\n\n%s", module, f.Name(), b)
	}
	return nil
}

// licenceNames are the names of the licences, by module.
func licenceNames() (map[string]string, error) {
	b, err := fs.ReadFile(texts, "licences/names.txt")
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for line := range strings.Lines(string(b)) {
		module, name, _ := strings.Cut(strings.TrimSpace(line), " ")
		names[module] = name
	}
	return names, nil
}
