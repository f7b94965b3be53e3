package config

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

func TestDurations(t *testing.T) {
	parse := durationIn(time.Second, 24*time.Hour)
	for in, want := range map[string]time.Duration{
		"10m": 10 * time.Minute, "10 min": 10 * time.Minute, "1.5h": 90 * time.Minute, "30 seconds": 30 * time.Second, "1d": 24 * time.Hour,
	} {
		if got, err := parse(in); err != nil || got != want {
			t.Errorf("%q = %v, %v; want %v", in, got, err, want)
		}
	}
	if _, err := parse("99999999999999999999d"); err == nil {
		t.Error("a duration beyond what can be held was accepted")
	}
}

func TestRetestDue(t *testing.T) {
	last, _ := parseMonth("2024-05-31")
	for every, want := range map[string]string{"5y": "2029-05", "10 years": "2034-05", "30mo": "2026-11"} {
		p, err := parsePeriod(every)
		if got := (Retest{last, p}).Due().Format("2006-01"); err != nil || got != want {
			t.Errorf("%s: %s, %v; want %s", every, got, err, want)
		}
	}
}

func TestDays(t *testing.T) {
	for in, want := range map[string]string{
		"open: mon-fri": "12345", "open: [sun, Saturday, sat]": "60", "open: sat-mon": "160", "open: [tue]": "2",
	} {
		c, err := Parse("h", []byte("household: {name: a, timezone: UTC}\ncylinders: [{name: a, tare: 14 kg, net_fill: 10 kg}]\nrefill: {"+in+"}\n"))
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, d := range c.Refill.Open {
			got += string(rune('0' + d))
		}
		if got != want {
			t.Errorf("%s: %s, want %s", in, got, want)
		}
	}
}

// TestJudge: what others find wrong stands at its place, unless it is wrong already or did not stand there.
func TestJudge(t *testing.T) {
	judge := func(c *Config) []Doubt {
		return []Doubt{{"cylinders[0].tare", "cannot be"}, {"cylinders[0].net_fill", "cannot be"}, {"refill.holidays", "cannot be"}}
	}
	_, err := Parse("h", []byte("household: {name: a, timezone: UTC}\ncylinders: [{name: a, tare: 14 kg, net_fill: 10}]\n"), judge)
	want := "h:2:29: cylinders[0].tare: \"14 kg\": cannot be\nh:2:46: cylinders[0].net_fill: \"10\": no unit; use g, kg, lb or oz (for example 10 kg)"
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
}

// TestNoIsACountry: YAML 1.1 reads a bare "no" as false; Norway keeps its holidays here.
func TestNoIsACountry(t *testing.T) {
	c, err := Parse("h", []byte("household: {name: a, timezone: UTC}\ncylinders: [{name: a, tare: 14 kg, net_fill: 10 kg}]\nrefill: {holidays: no}\n"))
	if err != nil || c.Refill.Holidays != "no" {
		t.Fatal(c, err)
	}
}

func TestLoadTellsAboutFiles(t *testing.T) {
	if _, err := Load(filepath.Join(t.TempDir(), "none.yaml")); !errors.Is(err, os.ErrNotExist) {
		t.Error(err)
	}
	big := filepath.Join(t.TempDir(), "big.yaml")
	if err := os.WriteFile(big, []byte("# "+strings.Repeat("x", maxFile)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(big); err == nil || !strings.Contains(err.Error(), "larger than 1 MiB") {
		t.Error(err)
	}
}

// FuzzParse: whatever the text, there is no panic; mistakes lie inside the text and are short; what is
// accepted keeps its promises.
func FuzzParse(f *testing.F) {
	for _, glob := range []string{"testdata/good/*.yaml", "testdata/bad/*.yaml"} {
		files, _ := filepath.Glob(glob)
		for _, name := range files {
			text, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(text)
		}
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		c, err := Parse("house.yaml", text)
		if err == nil {
			keepsPromises(t, c)
			return
		}
		// YAML 1.1 also ends lines at these.
		breaks := strings.Count(string(text), "\n")
		for _, b := range []string{"\r", "\u0085", "\u2028", "\u2029"} {
			breaks += strings.Count(string(text), b)
		}
		for _, e := range err.(Errors).List {
			s := e.Error()
			if len([]rune(s)) > 1500 || !utf8.ValidString(s) || strings.ContainsAny(s, "\n\r\x00\x1b") {
				t.Errorf("not one short line: %q", s)
			}
			if e.Line > breaks+2 {
				t.Errorf("line %d of %d: %q", e.Line, breaks+1, s)
			}
		}
	})
}

func keepsPromises(t *testing.T, c *Config) {
	if len(c.Cylinders) == 0 || c.Household.Location == nil || c.Household.Name == "" || len(c.Refill.Open) == 0 {
		t.Errorf("incomplete: %+v", c)
	}
	for _, cyl := range c.Cylinders {
		for _, x := range []float64{float64(cyl.Tare), float64(cyl.NetFill), float64(cyl.MinPressure)} {
			if !(x > 0) || math.IsInf(x, 0) {
				t.Errorf("not positive: %+v", cyl)
			}
		}
		if s := cyl.Scale; s != nil && (s.URL.Reveal() == "" || s.Unit == "" || s.Every <= 0 || s.Timeout <= 0 || s.Timeout > s.Every) {
			t.Errorf("incomplete: %+v", s)
		}
	}
	if _, err := checkCron(c.Schedule.Status); err != nil {
		t.Error(err)
	}
}
