package checkpoint

import (
	"bytes"
	"io"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

type leaf struct {
	x    float64
	name string
}

type tree struct {
	made    func() int // by the constructor
	leaves  []leaf
	chosen  *leaf     // of leaves
	twin    *leaf     // the same
	window  []leaf    // part of leaves
	shared  *[3]int32 // beside also
	also    *[3]int32
	by      map[string]*leaf
	when    [2]time.Time
	place   *time.Location
	up      *tree
	empty   []int
	nothing []int
	flags   [3]bool
	pad     struct {
		b bool
		f float64
	}
	scratch any `checkpoint:"-"`
}

var vienna = func() *time.Location {
	z, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		panic(err)
	}
	return z
}()

func planted() *tree { return &tree{made: func() int { return 7 }, scratch: "made"} }

func grown() *tree {
	t := planted()
	t.leaves = []leaf{{1, "a"}, {math.NaN(), "b"}, {math.Copysign(0, -1), ""}}
	t.chosen, t.twin, t.window = &t.leaves[1], &t.leaves[1], t.leaves[1:3]
	t.shared = &[3]int32{1, 2, 3}
	t.also = t.shared
	t.by = map[string]*leaf{"in": &t.leaves[2], "out": {5, "own"}, "": nil}
	t.when = [2]time.Time{time.Date(2027, 3, 28, 3, 0, 0, 5, vienna), {}}
	t.place, t.up, t.empty = vienna, t, []int{}
	t.flags[1], t.pad.b, t.pad.f = true, true, 3
	t.scratch = io.EOF
	return t
}

func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// TestGraph: shared values are shared again, also those in the middle of others and those that lead back.
func TestGraph(t *testing.T) {
	was, is := grown(), planted()
	b := must(Encode(was, vienna))(t)
	if err := Decode(b, is, vienna); err != nil {
		t.Fatal(err)
	}
	if is.up != is || is.chosen != &is.leaves[1] || is.twin != is.chosen || &is.window[0] != is.chosen || is.shared != is.also || is.by["in"] != &is.leaves[2] {
		t.Errorf("what was shared is not: %+v", is)
	}
	if is.made() != 7 || is.scratch != "made" || is.place != vienna {
		t.Errorf("what the constructor made is gone: %+v", is)
	}
	if !is.when[0].Equal(was.when[0]) || is.when[0].Location() != vienna || !is.when[1].IsZero() || is.empty == nil || is.nothing != nil {
		t.Errorf("values: %+v", is)
	}
	if !math.IsNaN(is.leaves[1].x) || !math.Signbit(is.leaves[2].x) || *is.by["out"] != (leaf{5, "own"}) || *is.also != [3]int32{1, 2, 3} || !is.flags[1] || !is.pad.b {
		t.Errorf("values: %+v", is)
	}
	if again := must(Encode(is, vienna))(t); !bytes.Equal(again, b) {
		t.Error("the same state gives other bytes")
	}
	was.leaves[0].x = 9
	if is.leaves[0].x != 1 {
		t.Error("what was restored lies where it was kept from")
	}
}

// TestCallersMemory: what the constructor was given is not written to.
func TestCallersMemory(t *testing.T) {
	given := []leaf{{1, "given"}}
	was, is := &tree{leaves: []leaf{{2, "kept"}}}, &tree{leaves: given, up: &tree{}}
	if err := Decode(must(Encode(was))(t), is); err != nil {
		t.Fatal(err)
	}
	if given[0].name != "given" || is.leaves[0].name != "kept" || is.up != nil {
		t.Errorf("given %v, restored %v", given, is.leaves)
	}
}

// TestUnfaithful: what could only be restored as something else is not kept.
func TestUnfaithful(t *testing.T) {
	three := []leaf{{}, {}, {}}
	for want, v := range map[string]any{
		"cannot be kept": &struct{ a any }{1},
		"keys":           &struct{ m map[[1]string]int }{map[[1]string]int{{"a"}: 1}},
		"time zone":      &struct{ t time.Time }{time.Now().In(vienna)},
		"shares memory":  &struct{ a, b []leaf }{three[:2], three[1:]},
		"with another in pa": &struct {
			one *leaf
			all []leaf
		}{&three[1], three},
		"chan": &struct{ c chan int }{},
	} {
		if _, err := Encode(v); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%T: %v, want %q", v, err, want)
		}
	}
}

// TestDamaged: bytes that were cut short or changed are an error or another state, never a panic.
func TestDamaged(t *testing.T) {
	b := must(Encode(grown(), vienna))(t)
	for n := range b {
		if err := Decode(b[:n], planted(), vienna); err == nil {
			t.Errorf("%d of %d bytes are taken for a state", n, len(b))
		}
		for _, x := range []byte{1, 0x80, 0xff} {
			c := bytes.Clone(b)
			c[n] ^= x
			_ = Decode(c, planted(), vienna)
		}
	}
	if err := Decode(append(b, 0), planted(), vienna); err == nil {
		t.Error("more bytes than a state has")
	}
	if err := Decode(b, &tree{}, vienna); err == nil || !strings.Contains(err.Error(), "otherwise") {
		t.Errorf("a constructor that sets no function: %v", err)
	}
}

// TestPrint: any change of a type, of what the state was made from or of a zone gives another print.
func TestPrint(t *testing.T) {
	type inner struct{ A int }
	type renamed struct{ B int }
	type wider struct{ A int32 }
	type tagged struct {
		A int `checkpoint:"-"`
	}
	prints := map[string]string{}
	for name, v := range map[string]any{"inner": &struct{ x []inner }{}, "renamed": &struct{ x []renamed }{}, "wider": &struct{ x []wider }{},
		"tagged": &struct{ x []tagged }{}, "array": &struct{ x [1]inner }{}, "map": &struct{ x map[string]inner }{}} {
		prints[must(Print(v, &leaf{}))(t)] = name
	}
	prints[must(Print(&struct{ x []inner }{}, &leaf{x: 1}))(t)] = "made from something else"
	prints[must(Print(&struct{ x []inner }{}, &leaf{}, vienna))(t)] = "another zone"
	if len(prints) != 8 {
		t.Errorf("%d prints of 8: %v", len(prints), prints)
	}
	if a, b := must(Print(&tree{}, grown(), vienna))(t), must(Print(&tree{}, grown(), vienna))(t); a != b {
		t.Error("the same in another print")
	}
}

// TestEveryField: each number of a value, changed alone, changes the bytes.
func TestEveryField(t *testing.T) {
	v := reflect.ValueOf(&leaf{1, "x"}).Elem()
	before := must(Encode(v.Addr().Interface()))(t)
	*(*float64)(v.Field(0).Addr().UnsafePointer()) = math.Nextafter(1, 2)
	if bytes.Equal(before, must(Encode(v.Addr().Interface()))(t)) {
		t.Error("the last bit of a number does not count")
	}
}
