package checkpoint

import (
	"fmt"
	"io"
	"reflect"
)

// Shape writes how the types in the graph of v are laid out: names, kinds and places of all fields. Where it differs, what was encoded cannot be decoded.
func Shape(w io.Writer, v any) {
	s := shape{w, map[reflect.Type]bool{}}
	s.add(root(v).Type())
}

type shape struct {
	w    io.Writer
	seen map[reflect.Type]bool
}

func (s shape) add(t reflect.Type) {
	if s.seen[t] {
		return
	}
	s.seen[t] = true
	fmt.Fprintf(s.w, "%s %q %v %d\n", t.PkgPath(), t.String(), t.Kind(), t.Size())
	if t == timeType || t == zoneType {
		return
	}
	switch t.Kind() {
	case reflect.Map:
		s.add(t.Key())
		s.add(t.Elem())
	case reflect.Pointer, reflect.Slice, reflect.Array:
		s.add(t.Elem())
	case reflect.Struct:
		for f := range t.Fields() {
			fmt.Fprintf(s.w, "  %s %d %s\n", f.Name, f.Offset, f.Tag.Get(tag))
			if !ignored(f) {
				s.add(f.Type)
			}
		}
	}
}
