// Package checkpoint turns a graph of Go values into bytes and back, unexported fields included, so that a state which took years of
// readings to reach need not be reached anew.
//
// Whoever adds a field to a type in the graph has nothing to do here. Values are restored into what the type's constructor made:
// functions and time zones stay as the constructor set them, and so do fields tagged `checkpoint:"-"`, which are for what is no state,
// such as room to work in. Pointers that share a value share it again, also those into the middle of another value. What cannot be
// restored faithfully (an interface, a channel, a slice that overlaps another in part) is an error of Encode, never a wrong state.
//
// The bytes hold memory as this program lays it out. They are of use only to a program for which Print gives the same.
package checkpoint

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"time"
	"unsafe"
)

// tag marks fields that are no state.
const tag = "checkpoint"

func ignored(f reflect.StructField) bool { return f.Tag.Get(tag) == "-" }

// region is a piece of memory that a value of the graph owns: what a pointer points to, or the array of a slice.
type region struct {
	base unsafe.Pointer
	size uintptr
}

// holds reports whether n bytes at p lie in the region.
func (r region) holds(p unsafe.Pointer, n uintptr) bool {
	return uintptr(p) >= uintptr(r.base) && uintptr(p)+n <= uintptr(r.base)+r.size
}

// regions are numbered in the order in which they are met, by Encode and Decode alike.
type regions []region

// find is the number of the region that holds n bytes at p, -1 for none.
func (rs regions) find(p unsafe.Pointer, n uintptr) int {
	return slices.IndexFunc(rs, func(r region) bool { return r.holds(p, n) })
}

// overlap reports whether two regions share memory: a part was met before the whole, and would be restored as two values.
func (rs regions) overlap() bool {
	sorted := slices.Clone(rs)
	slices.SortFunc(sorted, func(a, b region) int { return cmp.Compare(uintptr(a.base), uintptr(b.base)) })
	for i := 1; i < len(sorted); i++ {
		if a := sorted[i-1]; uintptr(a.base)+a.size > uintptr(sorted[i].base) {
			return true
		}
	}
	return false
}

// root checks what Encode and Decode are called with.
func root(v any) reflect.Value {
	r := reflect.ValueOf(v)
	if r.Kind() != reflect.Pointer || r.IsNil() {
		panic(fmt.Sprintf("checkpoint: want a pointer to a value, not %T", v))
	}
	return r
}

// raw reports whether a value is nothing but numbers side by side, so that its memory is its content.
func raw(t reflect.Type) bool {
	switch t.Kind() {
	case reflect.Array:
		return raw(t.Elem())
	case reflect.Struct:
		if t == timeType {
			return false
		}
		end := uintptr(0)
		for f := range t.Fields() {
			if ignored(f) || f.Offset != end || !raw(f.Type) {
				return false
			}
			end += f.Type.Size()
		}
		return end == t.Size()
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64, reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32,
		reflect.Uint64, reflect.Uintptr, reflect.Float32, reflect.Float64, reflect.Complex64, reflect.Complex128, reflect.Bool:
		return true
	}
	return false
}

var (
	timeType = reflect.TypeFor[time.Time]()
	zoneType = reflect.TypeFor[*time.Location]()
)

// memory is the n bytes at p.
func memory(p unsafe.Pointer, n uintptr) []byte { return unsafe.Slice((*byte)(p), n) }
