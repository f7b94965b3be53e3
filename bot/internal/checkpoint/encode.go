package checkpoint

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"time"
	"unsafe"
)

// Encode is the state that v points to. Times may be in UTC, in the machine's zone or in one of zones. Equal states give equal bytes.
func Encode(v any, in ...*time.Location) ([]byte, error) {
	e := &encoder{zones: zones(in), raw: map[reflect.Type]bool{}}
	if err := e.value(root(v)); err != nil {
		return nil, fmt.Errorf("keeping the state of a %T: %w", v, err)
	}
	if e.regions.overlap() {
		return nil, fmt.Errorf("keeping the state of a %T: a slice or pointer shares memory with another in part", v)
	}
	return e.out, nil
}

type encoder struct {
	out     []byte
	regions regions
	zones   []*time.Location
	raw     map[reflect.Type]bool
}

func (e *encoder) byte(b byte) { e.out = append(e.out, b) }
func (e *encoder) int(n int64) { e.out = order.AppendUint64(e.out, uint64(n)) }
func (e *encoder) text(s string) {
	e.int(int64(len(s)))
	e.out = append(e.out, s...)
}

func (e *encoder) isRaw(t reflect.Type) bool {
	yes, known := e.raw[t]
	if !known {
		yes = raw(t)
		e.raw[t] = yes
	}
	return yes
}

// value writes v, which is addressable, and may then lie in an unexported field, or is the root.
func (e *encoder) value(v reflect.Value) error {
	t := v.Type()
	if v.CanAddr() {
		v = at(t, v.Addr().UnsafePointer())
	}
	switch {
	case t == timeType:
		return e.time(*(*time.Time)(v.Addr().UnsafePointer()))
	case t == zoneType:
		return e.zone((*time.Location)(v.UnsafePointer()))
	case v.CanAddr() && e.isRaw(t):
		e.out = append(e.out, memory(v.Addr().UnsafePointer(), t.Size())...)
		return nil
	}
	switch t.Kind() {
	case reflect.Pointer:
		return e.pointer(v)
	case reflect.Slice:
		return e.slice(v)
	case reflect.Map:
		return e.mapping(v)
	case reflect.String:
		e.text(v.String())
		return nil
	case reflect.Func:
		e.byte(map[bool]byte{true: none, false: whole}[v.IsNil()])
		return nil
	case reflect.Struct:
		return e.fields(v)
	case reflect.Array:
		return e.elements(v)
	}
	return fmt.Errorf("a %s cannot be kept", t)
}

func (e *encoder) fields(v reflect.Value) error {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if ignored(f) {
			continue
		}
		if err := e.value(v.Field(i)); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
	}
	return nil
}

func (e *encoder) elements(v reflect.Value) error {
	for i := range v.Len() {
		if err := e.value(v.Index(i)); err != nil {
			return fmt.Errorf("%d: %w", i, err)
		}
	}
	return nil
}

// known writes where n bytes at p lie if they are part of a region; else they are a new one.
func (e *encoder) known(p unsafe.Pointer, n uintptr) bool {
	i := e.regions.find(p, n)
	if i < 0 {
		e.regions = append(e.regions, region{p, n})
		e.byte(whole)
		return false
	}
	e.byte(part)
	e.int(int64(i))
	e.int(int64(uintptr(p) - uintptr(e.regions[i].base)))
	return true
}

func (e *encoder) pointer(v reflect.Value) error {
	if v.IsNil() {
		e.byte(none)
		return nil
	}
	if e.known(v.UnsafePointer(), v.Type().Elem().Size()) {
		return nil
	}
	return e.value(v.Elem())
}

func (e *encoder) slice(v reflect.Value) error {
	if v.IsNil() {
		e.byte(none)
		return nil
	}
	e.byte(whole)
	e.int(int64(v.Len()))
	size := uintptr(v.Len()) * v.Type().Elem().Size()
	if size == 0 || e.known(v.UnsafePointer(), size) {
		return nil
	}
	if e.isRaw(v.Type().Elem()) {
		e.out = append(e.out, memory(v.UnsafePointer(), size)...)
		return nil
	}
	return e.elements(v)
}

// mapping writes the pairs in the order of their keys' bytes.
func (e *encoder) mapping(v reflect.Value) error {
	if v.IsNil() {
		e.byte(none)
		return nil
	}
	e.byte(whole)
	e.int(int64(v.Len()))
	if k := v.Type().Key(); k.Kind() != reflect.String && !e.isRaw(k) {
		return fmt.Errorf("keys of a %s cannot be kept", v.Type())
	}
	type pair struct {
		key   []byte
		value reflect.Value
	}
	var pairs []pair
	for i := v.MapRange(); i.Next(); {
		key := &encoder{raw: e.raw}
		if err := key.value(addressable(i.Key())); err != nil {
			return err
		}
		pairs = append(pairs, pair{key.out, addressable(i.Value())})
	}
	slices.SortFunc(pairs, func(a, b pair) int { return bytes.Compare(a.key, b.key) })
	for _, p := range pairs {
		e.out = append(e.out, p.key...)
		if err := e.value(p.value); err != nil {
			return err
		}
	}
	return nil
}

// addressable is a copy of v.
func addressable(v reflect.Value) reflect.Value {
	c := reflect.New(v.Type()).Elem()
	c.Set(v)
	return c
}

func (e *encoder) zone(z *time.Location) error {
	i := slices.Index(e.zones, z)
	if i < 0 {
		return fmt.Errorf("the time zone %v is not among those named", z)
	}
	e.byte(byte(i))
	return nil
}

func (e *encoder) time(t time.Time) error {
	e.int(t.Unix())
	e.int(int64(t.Nanosecond()))
	return e.zone(t.Location())
}
