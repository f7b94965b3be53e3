package checkpoint

import (
	"errors"
	"fmt"
	"reflect"
	"time"
	"unsafe"
)

// Decode restores what Encode wrote into v, which points to what the constructor made. After an error v is not to be used. Nothing else that
// the constructor was given is written to: what is restored lies in memory of its own.
func Decode(b []byte, v any, in ...*time.Location) (err error) {
	d := &decoder{in: b, zones: zones(in), raw: map[reflect.Type]bool{}}
	defer func() { // bytes that were not written by Encode may ask for anything
		if r := recover(); r != nil {
			err = fmt.Errorf("restoring the state of a %T: %v", v, r)
		}
	}()
	r := root(v)
	if err := d.top(r); err != nil {
		return fmt.Errorf("restoring the state of a %T: %w", v, err)
	}
	if len(d.in) > 0 {
		return fmt.Errorf("restoring the state of a %T: %d bytes are left over", v, len(d.in))
	}
	return nil
}

type decoder struct {
	in      []byte
	regions regions
	zones   []*time.Location
	raw     map[reflect.Type]bool
}

func (d *decoder) take(n int64) ([]byte, error) {
	if n < 0 || n > int64(len(d.in)) {
		return nil, errShort
	}
	b := d.in[:n]
	d.in = d.in[n:]
	return b, nil
}

func (d *decoder) byte() (byte, error) {
	b, err := d.take(1)
	if err != nil {
		return 0, err
	}
	return b[0], nil
}

func (d *decoder) int() (int64, error) {
	b, err := d.take(8)
	if err != nil {
		return 0, err
	}
	return int64(order.Uint64(b)), nil
}

func (d *decoder) isRaw(t reflect.Type) bool {
	yes, known := d.raw[t]
	if !known {
		yes = raw(t)
		d.raw[t] = yes
	}
	return yes
}

func (d *decoder) copy(p unsafe.Pointer, n uintptr) error {
	b, err := d.take(int64(n))
	copy(memory(p, n), b)
	return err
}

// top restores what the root points to, in place.
func (d *decoder) top(v reflect.Value) error {
	if how, err := d.byte(); err != nil || how != whole {
		return errors.Join(err, errShort)
	}
	d.regions = append(d.regions, region{v.UnsafePointer(), v.Type().Elem().Size()})
	return d.value(v.Elem())
}

// value restores into v, which is addressable and may lie in an unexported field.
func (d *decoder) value(v reflect.Value) error {
	t := v.Type()
	v = at(t, v.Addr().UnsafePointer())
	switch {
	case t == timeType:
		return d.time((*time.Time)(v.Addr().UnsafePointer()))
	case t == zoneType:
		z, err := d.zone()
		v.Set(reflect.ValueOf(z))
		return err
	case d.isRaw(t):
		return d.copy(v.Addr().UnsafePointer(), t.Size())
	}
	switch t.Kind() {
	case reflect.Pointer:
		return d.pointer(v)
	case reflect.Slice:
		return d.slice(v)
	case reflect.Map:
		return d.mapping(v)
	case reflect.String:
		n, err := d.int()
		if err != nil {
			return err
		}
		b, err := d.take(n)
		v.SetString(string(b))
		return err
	case reflect.Func:
		how, err := d.byte()
		if err == nil && (how == none) != v.IsNil() {
			err = fmt.Errorf("the constructor sets a %s otherwise", t)
		}
		return err
	case reflect.Struct:
		return d.fields(v)
	case reflect.Array:
		return d.elements(v)
	}
	return fmt.Errorf("a %s cannot be restored", t)
}

func (d *decoder) fields(v reflect.Value) error {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		if ignored(f) {
			continue
		}
		if err := d.value(v.Field(i)); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
	}
	return nil
}

func (d *decoder) elements(v reflect.Value) error {
	for i := range v.Len() {
		if err := d.value(v.Index(i)); err != nil {
			return fmt.Errorf("%d: %w", i, err)
		}
	}
	return nil
}

// known is where n bytes lie that are part of a region met before; nil: they are a new one.
func (d *decoder) known(n uintptr) (unsafe.Pointer, error) {
	how, err := d.byte()
	if err != nil || how == whole {
		return nil, err
	}
	i, err := d.int()
	if err != nil {
		return nil, err
	}
	offset, err := d.int()
	if err != nil {
		return nil, err
	}
	if i < 0 || i >= int64(len(d.regions)) || offset < 0 || uintptr(offset)+n > d.regions[i].size {
		return nil, errors.New("a pointer leads nowhere")
	}
	return unsafe.Add(d.regions[i].base, offset), nil
}

func (d *decoder) pointer(v reflect.Value) error {
	if d.in[0] == none {
		d.in = d.in[1:]
		v.SetZero()
		return nil
	}
	t := v.Type().Elem()
	p, err := d.known(t.Size())
	if err != nil {
		return err
	}
	if p != nil {
		v.Set(reflect.NewAt(t, p))
		return nil
	}
	made := reflect.New(t)
	if !v.IsNil() {
		made.Elem().Set(v.Elem())
	}
	v.Set(made)
	d.regions = append(d.regions, region{made.UnsafePointer(), t.Size()})
	return d.value(made.Elem())
}

func (d *decoder) slice(v reflect.Value) error {
	if how, err := d.byte(); err != nil || how == none {
		v.SetZero()
		return err
	}
	n, err := d.int()
	if err != nil {
		return err
	}
	t := v.Type().Elem()
	size := uintptr(n) * t.Size()
	if size == 0 {
		v.Set(reflect.MakeSlice(v.Type(), int(n), max(int(n), v.Cap())))
		return nil
	}
	p, err := d.known(size)
	if err != nil {
		return err
	}
	if p != nil {
		v.Set(reflect.NewAt(reflect.ArrayOf(int(n), t), p).Elem().Slice(0, int(n)))
		return nil
	}
	if n > int64(len(d.in))+1 {
		return errShort
	}
	made := reflect.MakeSlice(v.Type(), int(n), max(int(n), v.Cap()))
	reflect.Copy(made, v)
	v.Set(made)
	d.regions = append(d.regions, region{made.UnsafePointer(), size})
	if d.isRaw(t) {
		return d.copy(made.UnsafePointer(), size)
	}
	return d.elements(made)
}

func (d *decoder) mapping(v reflect.Value) error {
	if how, err := d.byte(); err != nil || how == none {
		v.SetZero()
		return err
	}
	n, err := d.int()
	if err != nil {
		return err
	}
	v.Set(reflect.MakeMap(v.Type()))
	for range n {
		key, value := reflect.New(v.Type().Key()).Elem(), reflect.New(v.Type().Elem()).Elem()
		if err := d.value(key); err != nil {
			return err
		}
		if err := d.value(value); err != nil {
			return err
		}
		v.SetMapIndex(key, value)
	}
	return nil
}

func (d *decoder) zone() (*time.Location, error) {
	i, err := d.byte()
	if err != nil {
		return nil, err
	}
	if int(i) >= len(d.zones) {
		return nil, errors.New("a time zone that was not named")
	}
	return d.zones[i], nil
}

func (d *decoder) time(t *time.Time) error {
	s, err := d.int()
	if err != nil {
		return err
	}
	ns, err := d.int()
	if err != nil {
		return err
	}
	z, err := d.zone()
	if err != nil {
		return err
	}
	*t = time.Unix(s, ns).In(z)
	return nil
}
