package checkpoint

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"reflect"
	"runtime"
	"sync"
	"time"
)

// Print names what a state depends on beside what was fed: the program, the layout of the state and what it was made from, such as a config, and
// the clock changes of the time zones. A state that was kept under another print is of no use.
func Print(state, from any, in ...*time.Location) (string, error) {
	h := sha256.New()
	sum, err := program()
	if err != nil {
		return "", fmt.Errorf("reading this program: %w", err)
	}
	fmt.Fprintln(h, runtime.GOOS, runtime.GOARCH, hex.EncodeToString(sum))
	shape(h, root(state).Type(), map[reflect.Type]bool{})
	made, err := Encode(from, in...)
	if err != nil {
		return "", err
	}
	h.Write(made)
	for _, z := range in {
		changes(h, z)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// program is a digest of the program that runs. A version number would not do: a program may be built from anything.
var program = sync.OnceValues(func() ([]byte, error) {
	path, err := os.Executable()
	if err != nil {
		return nil, err
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	h := sha256.New()
	_, err = io.Copy(h, f)
	return h.Sum(nil), err
})

// changes writes on which days the clocks of a zone change: the machine's tables of them are replaced now and then. Time.ZoneBounds is of no
// use here: at the end of some years it stands still.
func changes(w io.Writer, z *time.Location) {
	before := -1
	for t := time.Date(1990, 1, 1, 12, 0, 0, 0, time.UTC); t.Year() < 2200; t = t.Add(24 * time.Hour) {
		if _, offset := t.In(z).Zone(); offset != before {
			fmt.Fprintln(w, t.Unix(), offset)
			before = offset
		}
	}
}

// shape writes how the types in the graph of a type are laid out: names, kinds and places of all fields. Where it differs, what was encoded
// cannot be decoded.
func shape(w io.Writer, t reflect.Type, seen map[reflect.Type]bool) {
	if seen[t] {
		return
	}
	seen[t] = true
	fmt.Fprintf(w, "%s %q %v %d\n", t.PkgPath(), t.String(), t.Kind(), t.Size())
	if t == timeType || t == zoneType {
		return
	}
	switch t.Kind() {
	case reflect.Map:
		shape(w, t.Key(), seen)
		shape(w, t.Elem(), seen)
	case reflect.Pointer, reflect.Slice, reflect.Array:
		shape(w, t.Elem(), seen)
	case reflect.Struct:
		for f := range t.Fields() {
			fmt.Fprintf(w, "  %s %d %s\n", f.Name, f.Offset, f.Tag.Get(tag))
			if !ignored(f) {
				shape(w, f.Type, seen)
			}
		}
	}
}
