package scale

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"tarebell/sources"
)

// shared reads a file beside the repository; tests that need it skip without it.
func shared(t *testing.T, name string, into any) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "reference", name))
	if errors.Is(err, os.ErrNotExist) {
		t.Skip("no ../shared beside the repository")
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatal(err)
	}
}

// rfc6901 is the document of RFC 6901 section 5.
const rfc6901 = `{"foo": ["bar", "baz"], "": 0, "a/b": 1, "c%d": 2, "e^f": 3, "g|h": 4, "i\\j": 5, "k\"l": 6, " ": 7, "m~n": 8}`

// TestPointerExamples: the pointers of RFC 6901 section 5 that lead to numbers.
func TestPointerExamples(t *testing.T) {
	doc, err := decodeJSON([]byte(rfc6901))
	if err != nil {
		t.Fatal(err)
	}
	for p, want := range map[string]float64{
		"/": 0, "/a~1b": 1, "/c%d": 2, "/e^f": 3, "/g|h": 4, `/i\j`: 5, `/k"l`: 6, "/ ": 7, "/m~0n": 8,
	} {
		ptr, err := newPointer(p)
		if err != nil {
			t.Error(err)
			continue
		}
		if n, err := ptr.number(doc, "weight"); err != nil || n.value != want {
			t.Errorf("%q: %v, %v; want %v", p, n.value, err, want)
		}
	}
}

// TestPointerRules: RFC 6901 section 3 (syntax) and section 4 (order of unescaping, array indices).
func TestPointerRules(t *testing.T) {
	doc, err := decodeJSON([]byte(`{"~1": 1, "/": 2, "list": [5, 6], "01": 7, "-": 8}`))
	if err != nil {
		t.Fatal(err)
	}
	for p, want := range map[string]string{
		"/~01": "1", "/~1": "2", "/list/1": "6", "/01": "7", "/-": "8", // members may be named like odd indices
		"/list/01": "", "/list/+1": "", "/list/-1": "", "/list/2": "", "/list/-": "", "/list/1 ": "", "/list/１": "", "/list/1/0": "", "/none": "",
	} {
		ptr, err := newPointer(p)
		if err != nil {
			t.Error(err)
			continue
		}
		v, ok := ptr.get(doc)
		if n, _ := v.(json.Number); ok != (want != "") || n.String() != want {
			t.Errorf("%q: %v %v, want %q", p, v, ok, want)
		}
	}
	for _, p := range []string{"weight", "#/weight", "/a~", "/a~2", "/~~0"} {
		if _, err := newPointer(p); err == nil {
			t.Errorf("%q was accepted", p)
		}
	}
}

// TestPointerReference runs ../shared/reference/rfc6901_json_pointer_examples.json.
func TestPointerReference(t *testing.T) {
	var ref struct {
		Document any
		Pairs    []struct {
			Pointer string
			Value   any
		} `json:"section_5_string_form"`
		Failing []string `json:"must_not_resolve_in_the_document"`
	}
	shared(t, "rfc6901_json_pointer_examples.json", &ref)
	if len(ref.Pairs) < 10 || len(ref.Failing) < 4 {
		t.Fatal("too few examples")
	}
	for _, c := range ref.Pairs {
		p, err := newPointer(c.Pointer)
		if err != nil {
			t.Error(err)
			continue
		}
		want := c.Value
		if want == "<whole document>" {
			want = ref.Document
		}
		if got, ok := p.get(ref.Document); !ok || !reflect.DeepEqual(got, want) {
			t.Errorf("%q: %v %v, want %v", c.Pointer, got, ok, want)
		}
	}
	for _, s := range ref.Failing {
		if p, err := newPointer(s); err == nil {
			if got, ok := p.get(ref.Document); ok {
				t.Errorf("%q leads to %v", s, got)
			}
		}
	}
}

// TestSenMLReference runs ../shared/reference/rfc8428_senml_examples.json: packs of RFC 8428 section 5.1 with
// their resolved form, of which this reader keeps the records with a number.
func TestSenMLReference(t *testing.T) {
	type resolved struct {
		N, U string
		T    *float64
		V    *float64
	}
	var ref struct {
		Examples []struct {
			Name     string
			Pack     json.RawMessage
			Resolved []resolved
		}
	}
	shared(t, "rfc8428_senml_examples.json", &ref)
	if len(ref.Examples) < 5 {
		t.Fatal("too few examples")
	}
	for _, ex := range ref.Examples {
		got, err := resolve(ex.Pack, noon)
		if err != nil {
			t.Errorf("%s: %v", ex.Name, err)
			continue
		}
		i := 0
		for _, want := range ex.Resolved {
			if want.V == nil {
				continue
			}
			if i >= len(got) {
				t.Errorf("%s: %d records", ex.Name, len(got))
				break
			}
			r := got[i]
			i++
			if r.name != want.N || r.unit != want.U || r.value != *want.V || r.timed != (want.T != nil) {
				t.Errorf("%s: %+v, want %+v", ex.Name, r, want)
			}
			if want.T != nil && r.time.UnixMilli() != int64(*want.T*1000+0.5) {
				t.Errorf("%s: at %v, want %v", ex.Name, r.time.UnixMilli(), *want.T)
			}
		}
		if i != len(got) {
			t.Errorf("%s: %d records with a number, want %d", ex.Name, len(got), i)
		}
	}
}

// TestSenMLMultipleDataPoints is an example of RFC 8428 section 5.1.2 by hand: base name, time and unit, and
// times relative to the base time.
func TestSenMLMultipleDataPoints(t *testing.T) {
	rs, err := resolve([]byte(`[
		{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
		{"n":"current","t":-5,"v":1.2},
		{"n":"current","v":1.7}]`), noon)
	if err != nil || len(rs) != 3 {
		t.Fatal(rs, err)
	}
	at := time.Date(2010, 6, 8, 18, 1, 16, 1e6, time.UTC) // 1276020076.001
	want := []senRecord{
		{"urn:dev:ow:10e2073a0108006:voltage", "V", 120.1, true, at},
		{"urn:dev:ow:10e2073a0108006:current", "A", 1.2, true, at.Add(-5 * time.Second)},
		{"urn:dev:ow:10e2073a0108006:current", "A", 1.7, true, at},
	}
	for i := range want {
		rs[i].time = rs[i].time.UTC()
		if rs[i] != want[i] {
			t.Errorf("%+v, want %+v", rs[i], want[i])
		}
	}
}

// TestSenMLRelativeTime: RFC 8428 section 4.5.3 puts the border at 2^28 seconds.
func TestSenMLRelativeTime(t *testing.T) {
	for s, want := range map[float64]time.Time{
		0: noon, -1.5: noon.Add(-1500 * time.Millisecond), 1<<28 - 1: noon.Add((1<<28 - 1) * time.Second),
		1 << 28: time.Unix(1<<28, 0), -1 << 28: noon.Add(-1 << 28 * time.Second),
	} {
		if got, err := senMLTime(0, s, noon); err != nil || !got.Equal(want) {
			t.Errorf("%v: %v, %v; want %v", s, got, err, want)
		}
	}
}

// TestWireFacts checks the rows of ../shared/reference/wire_standards_facts.csv that this package relies on,
// so that a change of the table is noticed here.
func TestWireFacts(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "reference", "wire_standards_facts.csv"))
	if errors.Is(err, os.ErrNotExist) {
		t.Skip("no ../shared beside the repository")
	}
	if err != nil {
		t.Fatal(err)
	}
	for _, fact := range []string{
		"version (default 10)", "a time of 2**28 (268435456) or more is seconds since 1970-01-01T00:00Z",
		"ignored unless the name ends in _", "media type application/senml+json", "kilogram is registered as kg",
		"g (gram) is registered but marked NOT RECOMMENDED", "Cel degrees Celsius",
		"Retry-After = HTTP-date / delay-seconds",
	} {
		if !strings.Contains(string(text), fact) {
			t.Errorf("the table no longer says %q", fact)
		}
	}
	// Section 4.3: fields that are not understood are ignored.
	if rs, err := resolve([]byte(`[{"n":"w","u":"kg","v":1,"future":[{}]}]`), noon); err != nil || len(rs) != 1 {
		t.Error(rs, err)
	}
	// RFC 9110 section 5.6.7: the obsolete forms of a date are accepted.
	now := time.Date(1994, 11, 6, 8, 49, 0, 0, time.UTC)
	for _, s := range []string{"Sun, 06 Nov 1994 08:49:37 GMT", "Sunday, 06-Nov-94 08:49:37 GMT", "Sun Nov  6 08:49:37 1994"} {
		if d := retryAfter(s, now); d != 37*time.Second {
			t.Errorf("%s: %v", s, d)
		}
	}
}

var _ error = (*sources.Failure)(nil)
