package forecast

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/forecast/unit/reftest"
)

// readSeries reads a real load-cell series: time, mass, and perhaps a temperature.
func readSeries(t testing.TB, path string, gramsPer, offset float64) []record.Event {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []record.Event
	for _, rec := range rows[1:] {
		at, err := time.Parse(time.RFC3339, rec[0])
		if err != nil {
			if at, err = time.Parse("2006-01-02T15:04:05", rec[0]); err != nil {
				t.Fatal(err)
			}
		}
		m, err := strconv.ParseFloat(rec[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		w := record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(m*gramsPer + offset)}
		if len(rec) > 2 && rec[2] != "" {
			c, err := strconv.ParseFloat(rec[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			w.Temp, w.HasTemp = unit.Celsius(c), true
		}
		out = append(out, w)
	}
	return out
}

// TestRealScales demands no possible leak over real load cells that carry a constant or slowly changing load:
// one whose reading follows the temperature by hundreds of grams, one with wild spikes in 5 % of its readings
// (testdata/README.md says whose they are). The -275 g step of the hive is told as a step, if at all.
func TestRealScales(t *testing.T) {
	hive := readSeries(t, filepath.Join("testdata", "scale_hive_6kg_s3_hourly.csv"), 1000, 0)
	alarms, kinds := watchSeries(Options{Tare: 3500, NetFill: 4000}, hive)
	if alarms != 0 {
		t.Errorf("hive: %d possible leaks; %v", alarms, kinds)
	}
	jug := readSeries(t, filepath.Join("testdata", "scale_kitchen_jug_overnight_30s.csv"), 1, 0)
	alarms, kinds = watchSeries(Options{Tare: 100, NetFill: 100}, jug)
	if alarms != 0 {
		t.Errorf("jug: %d possible leaks; %v", alarms, kinds)
	}
}

// TestNoThermometer reads the hive's load cell without its temperature, which moves it by 200 g from morning to afternoon, with an invented household
// that draws 40 g an evening from what stands there. What goes up and down with the day is not taken for use.
func TestNoThermometer(t *testing.T) {
	hive := readSeries(t, filepath.Join("testdata", "scale_hive_6kg_s3_hourly.csv"), 1000, 0)
	c := New(Options{Tare: 3500, NetFill: 2600})
	drawn, days := unit.Grams(0), 0
	for _, w := range hive {
		if h := w.At.Hour(); h >= 18 && h < 22 {
			drawn += 10
		}
		w.Gross, w.HasTemp = w.Gross-drawn, false
		c.Apply(w)
		if w.At.Hour() != 0 {
			continue
		}
		days++
		if use := c.Outlook(w.At).Use; days >= 5 && (use.Mean < 25 || use.Mean > 60 || use.SD > 25) {
			t.Errorf("day %d: %.1f ± %.1f g a day", days, use.Mean, use.SD)
		}
	}
}

// TestRealPots runs over pots with growing plants (ICRISAT, GPL-3, so read from ../shared only). Nothing here is
// a false alarm in the strict sense: the mass does go, 6 to 7 g/h at night and 50 to 100 g/h by day, kilograms
// of water come in, drain and drip. But it goes much alike every day, so the two clean cells may raise no more than
// one alarm in four days; without learning what is usual they raise one a day. The two noisy ones (of 24 and 31 g,
// one of them mis-zeroed) are only logged.
func TestRealPots(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join(reftest.Root(t), "..", "shared", "data", "scale_pot_*.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if len(paths) == 0 {
		t.Skip("no ../shared/data here")
	}
	for _, p := range paths {
		x := readSeries(t, p, 1, 100000)
		alarms, kinds := watchSeries(Options{Tare: x[0].Gross - 8000, NetFill: 10000}, x)
		name := filepath.Base(p)
		t.Logf("%s: %d possible leaks in 24 days; %v", name, alarms, kinds)
		if clean := name == "scale_pot_C-2-74_15min.csv" || name == "scale_pot_F-2-157_15min.csv"; clean && alarms > 6 {
			t.Errorf("%s: %d possible leaks", name, alarms)
		}
	}
}

// watchSeries counts possible leaks and all kinds of findings.
func watchSeries(o Options, x []record.Event) (alarms int, kinds map[string]int) {
	c := New(o)
	kinds = map[string]int{}
	for _, w := range x {
		for _, f := range c.Apply(w) {
			kinds[kindNames[f.Kind]]++
			if noticeKind(f.Kind) == "possible-leak" {
				alarms++
			}
		}
	}
	return alarms, kinds
}
