package entry

import (
	"bufio"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

var update = flag.Bool("update", false, "rewrite testdata/readings.txt with what is read now")

const readingsFile = "testdata/readings.txt"

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// contexts are the invented households of testdata/readings.txt.
func contexts(t testing.TB) map[string]Context {
	vienna := zone(t, "Europe/Vienna")
	now := time.Date(2026, 11, 25, 19, 30, 0, 0, vienna) // a Wednesday
	club := Cylinder{Cylinder: record.Cylinder{Name: "main", Tare: unit.Kilograms(38.7), NetFill: unit.Kilograms(61.4) - unit.Kilograms(38.7)}}
	home := Cylinder{Cylinder: record.Cylinder{Name: "main", Tare: unit.Kilograms(15.4), NetFill: unit.Kilograms(25.4) - unit.Kilograms(15.4)},
		Last: unit.Kilograms(24.95), LastAt: now.AddDate(0, 0, -3)}
	spare := Cylinder{Cylinder: record.Cylinder{Name: "Spare 2", Tare: unit.Kilograms(14.9), NetFill: unit.Kilograms(24.9) - unit.Kilograms(14.9)}}
	us := Cylinder{Cylinder: record.Cylinder{Name: "main", Tare: unit.Pounds(85), NetFill: unit.Pounds(136) - unit.Pounds(85)}}
	return map[string]Context{
		"club":  {Now: now, Cylinders: []Cylinder{club}},
		"home":  {Now: now, Cylinders: []Cylinder{home}},
		"two":   {Now: now, Cylinders: []Cylinder{home, spare}},
		"us":    {Now: time.Date(2026, 11, 25, 19, 30, 0, 0, zone(t, "America/New_York")), Units: unit.US, Cylinders: []Cylinder{us}},
		"mini":  {Now: now, Cylinders: []Cylinder{{Cylinder: record.Cylinder{Name: "main", Tare: 1180, NetFill: 1605 - 1180}}}},
		"open":  {Now: now},
		"asked": {Now: now, Cylinders: []Cylinder{home}, Asked: true},
	}
}

// shown is a reading on one line.
func shown(r Reading, ctx Context) string {
	switch r := r.(type) {
	case NotAWeight:
		return "-"
	case Understood:
		return briefly(r, ctx)
	case Doubtful:
		var c []string
		for _, u := range r.Candidates {
			c = append(c, briefly(u, ctx))
		}
		return fmt.Sprintf("? %s: %s | %s", r.Reason, r.Question, strings.Join(c, "; "))
	}
	return "no reading"
}

func briefly(u Understood, ctx Context) string {
	s := u.mass()
	if u.Net {
		s += " net"
	}
	if u.Cylinder != "" && (len(ctx.Cylinders) != 1 || u.Cylinder != ctx.Cylinders[0].Name) {
		s += " (" + u.Cylinder + ")"
	}
	if !u.At.Equal(ctx.Now) {
		s += u.At.Format(" @ Mon 2006-01-02 15:04")
	}
	return s
}

// TestReadings goes through testdata/readings.txt. Lines are "input => reading"; "[name]" chooses the
// household; \n, \t and \u.... in the input are escapes.
func TestReadings(t *testing.T) {
	file, err := os.ReadFile(readingsFile)
	if err != nil {
		t.Fatal(err)
	}
	all := contexts(t)
	var ctx Context
	var out strings.Builder
	n := 0
	for sc := bufio.NewScanner(strings.NewReader(string(file))); sc.Scan(); {
		line := sc.Text()
		input, want, isCase := strings.Cut(line, " => ")
		switch {
		case isCase:
			n++
			got := shown(Parse(unescape(input), ctx), ctx)
			if got != want && !*update {
				t.Errorf("%q:\n got %s\nwant %s", input, got, want)
			}
			line = input + " => " + got
		case strings.HasPrefix(line, "["):
			ctx = all[strings.Trim(line, "[]")]
		}
		out.WriteString(line + "\n")
	}
	if n < 150 {
		t.Errorf("%d inputs, want at least 150", n)
	}
	if *update {
		if err := os.WriteFile(readingsFile, []byte(out.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

func unescape(s string) string {
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		var r rune
		switch {
		case strings.HasPrefix(s[i:], `\n`):
			b.WriteByte('\n')
			i++
		case strings.HasPrefix(s[i:], `\u`):
			fmt.Sscanf(s[i+2:i+6], "%04x", &r)
			b.WriteRune(r)
			i += 5
		default:
			b.WriteByte(s[i])
		}
	}
	return b.String()
}
