package checkpoint

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"reflect"
	"slices"
	"time"
	"unsafe"
)

// Encode is the state that v points to. Times may be in UTC, in the machine's zone or in one of zones. Equal states give equal bytes.
func Encode(v any, in ...*time.Location) (out []byte, err error) {
	c := newCodec(false, nil, in)
	if err := c.run(v); err != nil {
		return nil, fmt.Errorf("keeping the state of a %T: %w", v, err)
	}
	if c.regions.overlap() {
		return nil, fmt.Errorf("keeping the state of a %T: a slice or pointer shares memory with another in part", v)
	}
	return c.data, nil
}

// Decode restores what Encode wrote into v, which points to what the constructor made. After an error v is not to be used. Nothing else that
// the constructor was given is written to: what is restored lies in memory of its own.
func Decode(b []byte, v any, in ...*time.Location) error {
	c := newCodec(true, b, in)
	err := c.run(v)
	if err == nil && len(c.data) > 0 {
		err = fmt.Errorf("%d bytes are left over", len(c.data))
	}
	if err != nil {
		return fmt.Errorf("restoring the state of a %T: %w", v, err)
	}
	return nil
}

// codec goes through a graph of values, and writes or restores each. Both go the same way, so that what one writes is what the other reads.
type codec struct {
	restores bool
	data     []byte // what was written; or what is still to be read
	regions  regions
	zones    []*time.Location
	raw      map[reflect.Type]bool
	path     []any // names of fields and numbers of elements on the way here
}

func newCodec(restores bool, data []byte, more []*time.Location) *codec {
	return &codec{restores: restores, data: data, raw: map[reflect.Type]bool{}, zones: append([]*time.Location{nil, time.UTC, time.Local}, more...)}
}

// failure ends the way through a graph.
type failure struct{ error }

func (c *codec) fail(format string, args ...any) {
	err := fmt.Errorf(format, args...)
	for _, at := range slices.Backward(c.path) {
		err = fmt.Errorf("%v: %w", at, err)
	}
	panic(failure{err})
}

func (c *codec) run(v any) (err error) {
	defer func() {
		r := recover()
		if f, ok := r.(failure); ok {
			err = f.error
		} else if r != nil && c.restores { // bytes that were not written by Encode may ask for anything
			err = fmt.Errorf("%v", r)
		} else if r != nil {
			panic(r)
		}
	}()
	r := root(v)
	c.regions = regions{{r.UnsafePointer(), r.Type().Elem().Size()}}
	c.value(r.Elem())
	return nil
}

// bytes writes b, or reads into it.
func (c *codec) bytes(b []byte) {
	if !c.restores {
		c.data = append(c.data, b...)
		return
	}
	if len(b) > len(c.data) {
		c.fail("ends too early")
	}
	copy(b, c.data)
	c.data = c.data[len(b):]
}

// int writes n, or reads it.
func (c *codec) int(n int64) int64 {
	var b [8]byte
	binary.LittleEndian.PutUint64(b[:], uint64(n))
	c.bytes(b[:])
	return int64(binary.LittleEndian.Uint64(b[:]))
}

func (c *codec) flag(yes bool) bool {
	b := []byte{0}
	if yes {
		b[0] = 1
	}
	c.bytes(b)
	return b[0] != 0
}

func (c *codec) isRaw(t reflect.Type) bool {
	yes, known := c.raw[t]
	if !known {
		yes = raw(t)
		c.raw[t] = yes
	}
	return yes
}

// value writes or restores v, which is addressable and may lie in an unexported field.
func (c *codec) value(v reflect.Value) {
	t, p := v.Type(), v.Addr().UnsafePointer()
	v = reflect.NewAt(t, p).Elem()
	switch {
	case t == timeType:
		c.time((*time.Time)(p))
		return
	case t == zoneType:
		c.zone((**time.Location)(p))
		return
	case c.isRaw(t):
		c.bytes(memory(p, t.Size()))
		return
	}
	switch t.Kind() {
	case reflect.Pointer:
		c.pointer(v)
	case reflect.Slice:
		c.slice(v)
	case reflect.Map:
		c.mapping(v)
	case reflect.String:
		c.text(v)
	case reflect.Func:
		if set := !v.IsNil(); c.flag(set) != set {
			c.fail("the constructor sets a %s otherwise", t)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := t.Field(i); !ignored(f) {
				c.part(f.Name, v.Field(i))
			}
		}
	case reflect.Array:
		c.elements(v)
	default:
		c.fail("a %s cannot be kept", t)
	}
}

func (c *codec) part(name any, v reflect.Value) {
	c.path = append(c.path, name)
	c.value(v)
	c.path = c.path[:len(c.path)-1]
}

func (c *codec) elements(v reflect.Value) {
	for i := range v.Len() {
		c.part(i, v.Index(i))
	}
}

// isNil writes whether v is nil, or makes it so.
func (c *codec) isNil(v reflect.Value) bool {
	if c.flag(!v.IsNil()) {
		return false
	}
	if c.restores {
		v.SetZero()
	}
	return true
}

// shared writes or reads where n bytes lie that are part of a region met before; nil: they are a new one.
func (c *codec) shared(p unsafe.Pointer, n uintptr) unsafe.Pointer {
	i, offset := -1, uintptr(0)
	if !c.restores {
		if i = c.regions.find(p, n); i >= 0 {
			offset = uintptr(p) - uintptr(c.regions[i].base)
		}
	}
	if i = int(c.int(int64(i))); i == -1 {
		return nil
	}
	offset = uintptr(c.int(int64(offset)))
	if i < 0 || i >= len(c.regions) || n > c.regions[i].size || offset > c.regions[i].size-n {
		c.fail("a pointer leads nowhere")
	}
	return unsafe.Add(c.regions[i].base, offset)
}

func (c *codec) pointer(v reflect.Value) {
	if c.isNil(v) {
		return
	}
	t := v.Type().Elem()
	if p := c.shared(v.UnsafePointer(), t.Size()); p != nil {
		if c.restores {
			v.Set(reflect.NewAt(t, p))
		}
		return
	}
	if c.restores {
		made := reflect.New(t)
		if !v.IsNil() {
			made.Elem().Set(v.Elem())
		}
		v.Set(made)
	}
	c.regions = append(c.regions, region{v.UnsafePointer(), t.Size()})
	c.value(v.Elem())
}

func (c *codec) slice(v reflect.Value) {
	if c.isNil(v) {
		return
	}
	n, t := int(c.int(int64(v.Len()))), v.Type().Elem()
	size := uintptr(n) * t.Size()
	if size > 0 {
		if p := c.shared(v.UnsafePointer(), size); p != nil {
			if c.restores {
				v.Set(reflect.NewAt(reflect.ArrayOf(n, t), p).Elem().Slice(0, n))
			}
			return
		}
	}
	if c.restores {
		if size > 0 && n > len(c.data)+1 {
			c.fail("ends too early")
		}
		made := reflect.MakeSlice(v.Type(), n, max(n, v.Cap()))
		reflect.Copy(made, v)
		v.Set(made)
	}
	if size == 0 {
		return
	}
	c.regions = append(c.regions, region{v.UnsafePointer(), size})
	if c.isRaw(t) {
		c.bytes(memory(v.UnsafePointer(), size))
		return
	}
	c.elements(v)
}

func (c *codec) text(v reflect.Value) {
	b := []byte(v.String())
	if n := c.int(int64(len(b))); c.restores {
		if n < 0 || n > int64(len(c.data)) {
			c.fail("ends too early")
		}
		b = make([]byte, n)
	}
	c.bytes(b)
	if c.restores {
		v.SetString(string(b))
	}
}

// mapping writes the pairs in the order of their keys' bytes.
func (c *codec) mapping(v reflect.Value) {
	if c.isNil(v) {
		return
	}
	n, of := int(c.int(int64(v.Len()))), v.Type()
	if k := of.Key(); k.Kind() != reflect.String && !c.isRaw(k) {
		c.fail("keys of a %s cannot be kept", of)
	}
	if c.restores {
		v.Set(reflect.MakeMap(of))
		for range n {
			key, value := reflect.New(of.Key()).Elem(), reflect.New(of.Elem()).Elem()
			c.value(key)
			c.value(value)
			v.SetMapIndex(key, value)
		}
		return
	}
	type pair struct {
		key   []byte
		value reflect.Value
	}
	var pairs []pair
	for i := v.MapRange(); i.Next(); {
		key, value := reflect.New(of.Key()).Elem(), reflect.New(of.Elem()).Elem()
		key.Set(i.Key())
		value.Set(i.Value())
		k := codec{raw: c.raw}
		k.value(key)
		pairs = append(pairs, pair{k.data, value})
	}
	slices.SortFunc(pairs, func(a, b pair) int { return bytes.Compare(a.key, b.key) })
	for _, p := range pairs {
		c.bytes(p.key)
		c.value(p.value)
	}
}

func (c *codec) zone(z **time.Location) {
	i := slices.Index(c.zones, *z)
	if !c.restores && i < 0 {
		c.fail("the time zone %v is not among those named", *z)
	}
	if i = int(c.int(int64(i))); i < 0 || i >= len(c.zones) {
		c.fail("a time zone that was not named")
	}
	if c.restores {
		*z = c.zones[i]
	}
}

func (c *codec) time(t *time.Time) {
	s, ns, z := c.int(t.Unix()), c.int(int64(t.Nanosecond())), t.Location()
	if c.zone(&z); c.restores {
		*t = time.Unix(s, ns).In(z)
	}
}
