package recorded

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

var monday = time.Date(2027, 1, 4, 6, 50, 0, 0, time.UTC)

const someWeighings = `time,gross_kg,temp_c,source
2027-01-04T06:50:00Z,24.875,17.3,scale
2027-01-04T08:50:00.250+01:00,24.845,,scale
2027-01-05T06:50:00Z,-0.040,85,manual
`

func TestWeighings(t *testing.T) {
	want := []record.Event{
		{Kind: record.Weighed, Gross: 24875, Temp: 17.3, HasTemp: true, At: monday, Origin: record.Scale},
		{Kind: record.Weighed, Gross: 24845, At: monday.Add(time.Hour + 250*time.Millisecond), Origin: record.Scale},
		{Kind: record.Weighed, Gross: -40, At: monday.Add(24 * time.Hour), Origin: record.Manual}, // 85 °C is no room's temperature
	}
	got, err := readWeighings("w.csv", strings.NewReader(someWeighings))
	if diff := cmp.Diff(want, got, cmpopts.EquateComparable(unit.Money{})); err != nil || diff != "" {
		t.Error(err, diff)
	}
}

// TestOrder: rows in whatever order come in that of time; nothing is lost, and nothing counts twice.
func TestOrder(t *testing.T) {
	lines := strings.SplitAfter("time,gross_kg,temp_c,source\n2027-01-03T06:50:00Z,24.3,,scale\n2027-01-01T06:50:00Z,24.1,,scale\n2027-01-02T06:50:00Z,24.2,,manual\n2027-01-02T06:50:00Z,24.2,,manual\n", "\n")
	var got []unit.Grams
	ws, err := readWeighings("w.csv", strings.NewReader(strings.Join(lines, "")))
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range ws {
		got = append(got, w.Gross)
	}
	if diff := cmp.Diff([]unit.Grams{24_100, 24_200, 24_300}, got); diff != "" {
		t.Error(diff)
	}
}

func TestMistakesInWeighings(t *testing.T) {
	head := "time,gross_kg,temp_c,source\n"
	for name, c := range map[string]struct{ text, want string }{
		"empty":           {"", "w.csv:1: empty; want the header time,gross_kg,temp_c,source"},
		"no header":       {"2027-01-04T06:50:00Z,24.875,17.3,scale\n", `w.csv:1: "2027-01-04T06:50:00Z,24.875,17.3,scale": no column time; want the header time,gross_kg,temp_c,source`},
		"semicolons":      {"time;gross_kg;temp_c;source\n", `w.csv:1: "time;gross_kg;temp_c;source": want the header time,gross_kg,temp_c,source, with commas between columns and points in decimals`},
		"missing column":  {"time,gross_kg,source\n", `w.csv:1: "time,gross_kg,source": no column temp_c; want the header time,gross_kg,temp_c,source`},
		"unknown column":  {"time,gross_kg,temp_c,source,weight\n", `w.csv:1:29: "weight": unknown or repeated column; use time, gross_kg, temp_c, source, cylinder, by, net, sd_g`},
		"repeated column": {"time,gross_kg,temp_c,source,time\n", `w.csv:1:29: "time": unknown or repeated column; use time, gross_kg, temp_c, source, cylinder, by, net, sd_g`},
		"few fields":      {head + "2027-01-04T06:50:00Z,24.875\n", `w.csv:2: "2027-01-04T06:50:00Z,24.875": 2 of 4 fields; want time,gross_kg,temp_c,source`},
		"half written":    {head + "2027-01-04T06:50:00Z,24.875,,scale\n2027-01-0", `w.csv:3: "2027-01-0": 1 of 4 fields; want time,gross_kg,temp_c,source`},
		"long ago":        {head + "1027-01-04T06:50:00Z,24.875,,scale\n", `w.csv:2:1: time: "1027-01-04T06:50:00Z": want a time from 1990 to 2199`},
		"far ahead":       {head + "3027-01-04T06:50:00Z,24.875,,scale\n", `w.csv:2:1: time: "3027-01-04T06:50:00Z": want a time from 1990 to 2199`},
		"bare quote":      {head + "2027-01-04T06:50:00Z,24\"875,,scale\n", `w.csv:2:24: want CSV as RFC 4180 has it: bare " in non-quoted-field`},
		"no zone":         {head + "2027-01-04T06:50:00,24.875,,scale\n", `w.csv:2:1: time: "2027-01-04T06:50:00": want a time of RFC 3339, for example 2027-01-04T06:50:00Z`},
		"no such day":     {head + "2027-02-29T06:50:00Z,24.875,,scale\n", `w.csv:2:1: time: "2027-02-29T06:50:00Z": want a time of RFC 3339, for example 2027-01-04T06:50:00Z`},
		"no such hour":    {head + "2027-02-28T24:00:00Z,24.875,,scale\n", `w.csv:2:1: time: "2027-02-28T24:00:00Z": want a time of RFC 3339, for example 2027-01-04T06:50:00Z`},
		"decimal comma":   {head + "2027-01-04T06:50:00Z,\"24,875\",,scale\n", `w.csv:2:22: gross_kg: "24,875": want the gross weight in kg, for example 24.875`},
		"NaN":             {head + "2027-01-04T06:50:00Z,NaN,,scale\n", `w.csv:2:22: gross_kg: "NaN": want the gross weight in kg, for example 24.875`},
		"infinite":        {head + "2027-01-04T06:50:00Z,1e999,,scale\n", `w.csv:2:22: gross_kg: "1e999": want the gross weight in kg, for example 24.875`},
		"hexadecimal":     {head + "2027-01-04T06:50:00Z,0x10p1,,scale\n", `w.csv:2:22: gross_kg: "0x10p1": want the gross weight in kg, for example 24.875`},
		"no weight":       {head + "2027-01-04T06:50:00Z,,,scale\n", `w.csv:2:22: gross_kg: "": want the gross weight in kg, for example 24.875`},
		"grams":           {head + "2027-01-04T06:50:00Z,24875,,scale\n", `w.csv:2: weight is 24875 kg: want -20 to 1000 kg; is the unit right?`},
		"warm words":      {head + "2027-01-04T06:50:00Z,24.875,warm,scale\n", `w.csv:2:29: temp_c: "warm": want degrees Celsius, for example 17.3, or nothing`},
		"another source":  {head + "2027-01-04T06:50:00Z,24.875,17.3,guess\n", `w.csv:2:34: source: "guess": want scale or manual`},
		"net, perhaps":    {"time,gross_kg,temp_c,source,net\n2027-01-04T06:50:00Z,24.875,,scale,1\n", `w.csv:2:36: net: "1": want false: the gross weight, with cylinder and fittings`},
		"sd, perhaps":     {"time,gross_kg,temp_c,source,sd_g\n2027-01-04T06:50:00Z,24.875,,scale,x\n", `w.csv:2:36: sd_g: "x": want grams, for example 20, or nothing`},
		"later lines": {head + "2027-01-04T06:50:00Z,24.875,17.3,scale\n\n2027-01-04T06:51:00Z,\"24.\n875\",,scale\n",
			`w.csv:4:22: gross_kg: "24.\n875": want the gross weight in kg, for example 24.875`},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := readWeighings("w.csv", strings.NewReader(c.text))
			if e := (*mistake.Mistake)(nil); !errors.As(err, &e) || err.Error() != c.want {
				t.Errorf("got  %v\nwant %s", err, c.want)
			}
		})
	}
}

func TestMistakesInEvents(t *testing.T) {
	fill := "want the net mass on the receipt with its unit, for example 9.07 kg, or nothing; after a swap add its tare: 9.07 kg tare 14.30 kg; then what was paid: price 42.50 EUR"
	for in, want := range map[string]string{
		"drunk,3":             `e.csv:2:22: event: "drunk": unknown event; use filled, made, away, valve, booked or ran-dry`,
		"filled,9.07":         `e.csv:2:29: value: "9.07": ` + fill,
		"filled,9.07 kgs":     `e.csv:2:29: value: "9.07 kgs": ` + fill,
		"filled,0 kg":         `e.csv:2:29: value: "0 kg": ` + fill,
		"filled,-9 kg":        `e.csv:2:29: value: "-9 kg": ` + fill,
		"filled,9070 kg":      `e.csv:2:29: value: "9070 kg": ` + fill,
		"filled,9 kg tare":    `e.csv:2:29: value: "9 kg tare": ` + fill,
		"filled,6 oz 2 lb":    `e.csv:2:29: value: "6 oz 2 lb": ` + fill,
		"made,some":           `e.csv:2:27: value: "some": want how many servings, for example 3`,
		"made,0":              `e.csv:2:27: value: "0": want how many servings, for example 3`,
		"made,NaN":            `e.csv:2:27: value: "NaN": want how many servings, for example 3`,
		"away,Friday":         `e.csv:2:27: value: "Friday": want until when, for example 2027-03-05T18:00:00Z`,
		"away,":               `e.csv:2:27: value: "": want until when, for example 2027-03-05T18:00:00Z`,
		"valve,shut":          `e.csv:2:28: value: "shut": want open or closed`,
		"booked,05.03.2027":   `e.csv:2:29: value: "05.03.2027": want the day, for example 2027-03-05`,
		"ran-dry,yes":         `e.csv:2:30: value: "yes": want nothing after ran-dry`,
		"answer,dunno":        `e.csv:2:29: value: "dunno": want unknown, used, lost, repaired or moved`,
		"made":                `e.csv:2: "2027-01-04T06:00:00Z,made": 2 of 3 fields; want time,event,value`,
		"made,3\n2027,made,3": `e.csv:3:1: time: "2027": want a time of RFC 3339, for example 2027-01-04T06:50:00Z`,
	} {
		_, err := readEvents("e.csv", strings.NewReader("time,event,value\n2027-01-04T06:00:00Z,"+in+"\n"))
		if err == nil || err.Error() != want {
			t.Errorf("%s\ngot  %v\nwant %s", in, err, want)
		}
	}
}

// TestAllMistakesAtOnce: loading a file goes past mistakes in fields, but not past broken CSV, and stops after ten.
func TestAllMistakesAtOnce(t *testing.T) {
	load := func(text string) error {
		file := filepath.Join(t.TempDir(), "w.csv")
		if err := os.WriteFile(file, []byte("time,gross_kg,temp_c,source\n"+text), 0o600); err != nil {
			t.Fatal(err)
		}
		ws, err := loadWeighings(file)
		if ws != nil {
			t.Errorf("weighings beside mistakes: %v", ws)
		}
		return err
	}
	bad, good := "2027-01-04T06:50:00Z,x,,scale\n", "2027-01-04T06:50:00Z,1,,scale\n"
	for text, want := range map[string]int{bad + good + "1,2\n" + bad: 3, strings.Repeat(bad, 50): 10, bad + "a,\"b\"c,,scale\n" + bad: 2} {
		if es := mistake.List(nil); !errors.As(load(text), &es) || len(es) != want || strings.Count(es.Error(), "\n") != want-1 {
			t.Errorf("%d mistakes, want %d:\n%v", len(es), want, es)
		}
	}
	if _, err := loadWeighings(filepath.Join(t.TempDir(), "none")); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
}

func TestLoadSortsByTime(t *testing.T) {
	dir := t.TempDir()
	w, e := filepath.Join(dir, "w.csv"), "e.csv"
	// A byte order mark, CRLF and another order of columns, as a spreadsheet leaves them.
	text := "\ufefftemp_c,source,gross_kg,time,cylinder\r\n,scale,2,2027-01-04T07:00:00Z,main\r\n,manual,1,2027-01-04T06:00:00Z,main\r\n,scale,3,2027-01-04T07:00:00Z,main\r\n"
	if err := os.WriteFile(w, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	ws, err := loadWeighings(w)
	if err != nil || len(ws) != 3 || ws[0].Gross != 1000 || ws[1].Gross != 2000 || ws[2].Gross != 3000 || ws[0].Cylinder != "main" || ws[0].Origin != record.Manual {
		t.Errorf("%+v, %v", ws, err)
	}
	es, err := readEvents(e, strings.NewReader("time,event,value\n2027-01-05T00:00:00Z,made,2\n2027-01-04T00:00:00Z,made,1\n"))
	if err != nil || len(es) != 2 || es[0].Count != 1 {
		t.Errorf("%+v, %v", es, err)
	}
}

// TestWeighingsRoundTrip: what is written in full reads back as it was, and writes the same again.
func TestWeighingsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var ws []record.Event
		from := rapid.Int64Range(7e11, 4e12).Draw(t, "from") // and for four years, since a longer gap is refused
		for range rapid.IntRange(0, 5).Draw(t, "n") {
			w := record.Event{Kind: record.Weighed, At: time.UnixMilli(from + rapid.Int64Range(0, 1.26e11).Draw(t, "ms")).UTC(),
				Gross:    unit.Grams(rapid.IntRange(-20_000_000, 1_000_000_000).Draw(t, "mg")) / 1000,
				Cylinder: rapid.StringMatching(`[^\r\n\x00]{0,8}`).Draw(t, "cylinder"), By: rapid.StringMatching(`[a-zé",; ]{0,8}`).Draw(t, "by"),
				Origin: rapid.SampledFrom([]record.Origin{record.Scale, record.Manual}).Draw(t, "origin")}
			if w.HasTemp = rapid.Bool().Draw(t, "hasTemp"); w.HasTemp {
				w.Temp = unit.Celsius(rapid.IntRange(-5000, 8000).Draw(t, "temp")) / 100
			}
			ws = append(ws, w)
		}
		slices.SortStableFunc(ws, func(a, b record.Event) int { return a.At.Compare(b.At) })
		ws = slices.Compact(ws)
		var a, b bytes.Buffer
		if err := WriteWeighings(&a, given(ws), true); err != nil {
			t.Fatal(err)
		}
		back, err := readWeighings("w.csv", bytes.NewReader(a.Bytes()))
		if err != nil || !slices.Equal(ws, back) {
			t.Fatalf("%v: %+v, want %+v in\n%s", err, back, ws, a.Bytes())
		}
		if err := WriteWeighings(&b, given(back), true); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Fatalf("%v\n%s\n%s", err, a.Bytes(), b.Bytes())
		}
	})
}

func TestWritingTheContract(t *testing.T) {
	var buf bytes.Buffer
	ws, err := readWeighings("w.csv", strings.NewReader(someWeighings))
	if err != nil {
		t.Fatal(err)
	}
	if err := WriteWeighings(&buf, given(ws), false); err != nil {
		t.Fatal(err)
	}
	want := "time,gross_kg,temp_c,source\n2027-01-04T06:50:00Z,24.875,17.3,scale\n2027-01-04T07:50:00.250Z,24.845,,scale\n2027-01-05T06:50:00Z,-0.040,,manual\n"
	if buf.String() != want {
		t.Errorf("%s", buf.String())
	}
	buf.Reset()
	told := []record.Event{{At: monday, Kind: record.Filled, Net: 9070, By: "Ida"}, {At: monday, Kind: record.Made, Count: 3}}
	if err := WriteEvents(&buf, given(told), false); err != nil {
		t.Fatal(err)
	}
	if want := "time,event,value\n2027-01-04T06:50:00Z,filled,9.070 kg\n2027-01-04T06:50:00Z,made,3\n"; buf.String() != want {
		t.Errorf("%s", buf.String())
	}
	bad := fmt.Errorf("a full disk")
	if err := WriteWeighings(full{bad}, given(ws), false); !errors.Is(err, bad) {
		t.Error(err)
	}
}

type full struct{ err error }

func (f full) Write([]byte) (int, error) { return 0, f.err }

// TestSharedHouseholds reads recorded households beside the repository and writes it back byte for byte.
func TestSharedHouseholds(t *testing.T) {
	files, _ := filepath.Glob("../../../shared/worlds/*/weighings.csv")
	if len(files) == 0 {
		t.Skip("no ../shared beside the repository")
	}
	for i, f := range files {
		if i%10 > 1 { // two of each ten: they are much alike
			continue
		}
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		ws, err := readWeighings(f, bytes.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		var buf bytes.Buffer
		if err := WriteWeighings(&buf, given(ws), false); err != nil || !bytes.Equal(buf.Bytes(), bytes.ReplaceAll(text, []byte("\r"), nil)) {
			t.Errorf("%s: %v, or not the same bytes", f, err)
		}
		told := filepath.Join(filepath.Dir(f), "events.csv")
		lines, err := os.ReadFile(told)
		if err != nil {
			t.Fatal(err)
		}
		es, err := readEvents(told, bytes.NewReader(lines))
		if err != nil || len(es) == 0 || es[0].Kind != record.Filled || es[0].Net < 1000 {
			t.Errorf("%s: %v, %v", f, es, err)
		}
	}
}

func rows(n int) []byte {
	var ws []record.Event
	for i := range n {
		ws = append(ws, record.Event{Kind: record.Weighed, At: monday.Add(time.Duration(i) * 10 * time.Minute), Gross: unit.Grams(25000 - i/20), Temp: 17.3, HasTemp: i%2 == 0, Origin: record.Scale})
	}
	var buf bytes.Buffer
	if err := WriteWeighings(&buf, given(ws), false); err != nil {
		panic(err)
	}
	return buf.Bytes()
}

// BenchmarkWeighings reads seven years of a scale that is polled every ten minutes: 368,000 rows.
func BenchmarkWeighings(b *testing.B) {
	text := rows(368_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		if ws, err := readWeighings("w.csv", bytes.NewReader(text)); err != nil || len(ws) != 368_000 {
			b.Fatal(len(ws), err)
		}
	}
}

// FuzzFiles: no file panics; mistakes are one bounded line each; what is read passes the checks.
func FuzzFiles(f *testing.F) {
	f.Add(someWeighings, true)
	f.Add("time,gross_kg,temp_c,source,cylinder,by,net,sd_g\n2027-01-04T06:50:00Z,24.875,17.3,scale,a,b,true,3\n", true)
	f.Add("time,event,value\n2027-01-04T06:50:00Z,filled,9.07 kg tare 14.30 kg\n2027-01-04T06:50:00Z,away,2027-01-09\n", false)
	f.Fuzz(func(t *testing.T, text string, weighings bool) {
		check := func(err error) {
			all := mistake.List{}
			if m := (*mistake.Mistake)(nil); !errors.As(err, &all) && errors.As(err, &m) {
				all = mistake.List{m}
			}
			for _, e := range all {
				if s := e.Error(); len([]rune(s)) > 800 || strings.ContainsAny(s, "\n\r") {
					t.Errorf("not one short line: %q", s)
				}
			}
			if len(all) == 0 {
				t.Errorf("%v names no place", err)
			}
		}
		if !weighings {
			es, err := readEvents("f", strings.NewReader(text))
			if err != nil {
				check(err)
			}
			for _, e := range es {
				if again, err := record.Read(e.Kind, e.Value()); err != nil || again.Value() != e.Value() {
					t.Errorf("%+v reads back as %+v, %v", e, again, err)
				}
			}
			return
		}
		ws, err := readWeighings("f", strings.NewReader(text))
		if err != nil {
			check(err)
		}
		for _, w := range ws {
			if err := sources.Check(w, time.Time{}); err != nil {
				t.Error(err)
			}
		}
	})
}

func readEvents(file string, r io.Reader) (out []record.Event, err error) {
	rows, err := EventRows(file, r)
	for _, row := range rows {
		out = append(out, row.Event)
	}
	return out, err
}

func readWeighings(file string, r io.Reader) (out []record.Event, err error) {
	for row, err := range WeighingRows(file, r) {
		if err != nil {
			return nil, err
		}
		out = append(out, row.Event)
	}
	return out, nil
}

func loadWeighings(file string) ([]record.Event, error) {
	f, err := Open(context.Background(), file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readWeighings(file, f)
}

// given hands out events without a mistake.
func given(es []record.Event) iter.Seq2[record.Event, error] {
	return func(yield func(record.Event, error) bool) {
		for _, e := range es {
			if !yield(e, nil) {
				return
			}
		}
	}
}

// pipe is what a pipe is: it cannot be read twice.
type pipe struct{ io.Reader }

// TestLongTables: a table in order is handed out however long it is, and not held in memory; one that is not is put in order, or refused when it
// is too long, and both say the same as through a pipe.
func TestLongTables(t *testing.T) {
	at := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	table := func(n int, late int) string {
		var b strings.Builder
		b.WriteString("time,gross_kg,temp_c,source\n")
		for i := range n {
			when := at.Add(time.Duration(i) * time.Minute)
			if i == late {
				when = at.Add(-time.Hour)
			}
			fmt.Fprintf(&b, "%s,24.%03d,,scale\n", when.Format(time.RFC3339), i%1000)
		}
		return b.String()
	}
	read := func(r io.Reader) (n int, first time.Time, err error) {
		last := time.Time{}
		for w, err := range WeighingRows("w.csv", r) {
			if err != nil {
				return n, first, err
			}
			if n++; n == 1 {
				first = w.At
			}
			if w.At.Before(last) {
				t.Fatalf("%s after %s", w.At, last)
			}
			last = w.At
		}
		return n, first, nil
	}
	for _, c := range []struct {
		name    string
		n, late int
		first   time.Time
		say     string
	}{
		{"in order", 1000, -1, at, ""},
		{"in disorder", 1000, 700, at.Add(-time.Hour), ""},
		{"long, in order", longest + 2, -1, at, ""},
		{"long, in disorder", longest + 2, 700, at, "w.csv:702: time: \"2026-12-31T23:00:00Z\": comes after 2027-01-01T11:39:00Z; want rows in order"},
	} {
		text := table(c.n, c.late)
		n, first, err := read(strings.NewReader(text))
		if c.say != "" {
			if err == nil || !strings.Contains(err.Error(), c.say) || n > 0 {
				t.Errorf("%s: %d rows, %v, want %q", c.name, n, err, c.say)
			}
			continue
		}
		if err != nil || n != c.n || !first.Equal(c.first) {
			t.Errorf("%s: %d rows from %s, %v", c.name, n, first, err)
		}
		if m, _, err := read(pipe{strings.NewReader(text)}); err != nil || m != n {
			t.Errorf("%s through a pipe: %d rows, %v", c.name, m, err)
		}
	}
}

// TestWrongClock: a row years away from the others is a mistake, told with its line, whichever side of them and wherever it stands.
func TestWrongClock(t *testing.T) {
	row := func(at string) string { return at + ",24.5,,scale\n" }
	some := []string{"2027-01-04T06:00:00Z", "2027-01-04T07:00:00Z", "2031-12-04T08:00:00Z"}
	for odd, say := range map[string]string{
		"1990-01-01T00:00:00Z": "lies 37 years before line",
		"2099-01-01T00:00:00Z": "lies 67 years after line",
	} {
		for i := range len(some) + 1 {
			text, line := "time,gross_kg,temp_c,source\n", 0
			for k, at := range some {
				if k == i {
					text += row(odd)
				}
				text += row(at)
			}
			if i == len(some) {
				text += row(odd)
			}
			line = i + 2
			for _, r := range []io.Reader{strings.NewReader(text), pipe{strings.NewReader(text)}} {
				for w, err := range WeighingRows("w.csv", r) {
					if err == nil || !strings.HasPrefix(err.Error(), fmt.Sprintf("w.csv:%d: time: %q: %s", line, odd, say)) {
						t.Errorf("%s in line %d: %v, %v", odd, line, w.At, err)
					}
				}
			}
		}
	}
	_, err := EventRows("e.csv", strings.NewReader("time,event,value\n2027-01-04T06:00:00Z,made,2\n2027-01-05T06:00:00Z,made,2\n2107-01-05T06:00:00Z,made,2\n"))
	if err == nil || !strings.Contains(err.Error(), "e.csv:4: time: \"2107-01-05T06:00:00Z\": lies 80 years after line 3") {
		t.Errorf("events: %v", err)
	}
}

// TestReadingEnds: a long file is not read on once nobody wants it.
func TestReadingEnds(t *testing.T) {
	name := filepath.Join(t.TempDir(), "w.csv")
	if err := os.WriteFile(name, []byte(someWeighings), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	f, err := Open(ctx, name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	stop()
	for _, err := range WeighingRows(name, f) {
		if !errors.Is(err, context.Canceled) {
			t.Errorf("%v, want to be told that it was cancelled", err)
		}
	}
}

// TestTables: both tables come in order of time, events first at the same time, as often as asked; the cylinder is filled in.
func TestTables(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		name = filepath.Join(dir, name)
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return name
	}
	weighings := file("w.csv", someWeighings)
	events := file("e.csv", "time,event,value,cylinder\n2027-01-05T06:50:00Z,made,3,spare\n2027-01-04T06:00:00Z,filled,,\n2027-01-06T06:00:00Z,ran-dry,,\n")
	for _, c := range []struct{ weighings, events, want string }{
		{weighings, events, "filled main, weighed main, weighed main, made spare, weighed main, ran-dry main"},
		{weighings, "", "weighed main, weighed main, weighed main"},
		{"", events, "filled main, made spare, ran-dry main"},
		{"", "", ""},
	} {
		tables, err := OpenTables(t.Context(), c.weighings, c.events, "main")
		if err != nil {
			t.Fatal(err)
		}
		for range 2 {
			var got []string
			for row, err := range tables.Rows() {
				if err != nil {
					t.Fatal(err)
				}
				got = append(got, string(row.Kind)+" "+row.Cylinder)
			}
			if all := strings.Join(got, ", "); all != c.want {
				t.Errorf("%s, want %s", all, c.want)
			}
		}
		for range tables.Rows() {
			break
		}
		tables.Close()
	}
	for name, c := range map[string][2]string{
		"no such weighings": {filepath.Join(dir, "none.csv"), ""},
		"no such events":    {"", filepath.Join(dir, "none.csv")},
		"broken events":     {"", file("broken.csv", "time,event,value\nnoon,made,3\n")},
	} {
		if _, err := OpenTables(t.Context(), c[0], c[1], "main"); err == nil || !strings.HasPrefix(err.Error(), "reading ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}
