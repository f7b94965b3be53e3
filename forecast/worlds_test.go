package forecast

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/forecast/unit/reftest"
)

// worldsDir is where simulated households with known truth may stand, beside the repository.
func worldsDir(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(reftest.Root(t), "..", "shared", "worlds")
	if _, err := os.Stat(dir); err != nil {
		t.Skip("no ../shared/worlds here")
	}
	return dir
}

// world is one simulated household.
type world struct {
	name      string
	family    string
	opt       Options
	weighings []record.Event
	leak      *worldLeak
	rezero    []time.Time // of steps down
	runOut    time.Time
}

type worldLeak struct {
	Kind    string
	Start   time.Time `json:"start_at"`
	PerHour float64   `json:"g_per_h"`
	Hours   *float64
}

func loadWorld(t testing.TB, dir, name string) world {
	t.Helper()
	w := world{name: name, family: strings.SplitN(name, "-", 2)[0]}
	yaml, err := os.ReadFile(filepath.Join(dir, name, "house.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	get := func(key string) float64 {
		_, after, ok := strings.Cut(string(yaml), key+":")
		if !ok {
			t.Fatalf("%s: no %s", name, key)
		}
		v, err := strconv.ParseFloat(strings.Fields(after)[0], 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	w.opt = Options{
		Tare: unit.Kilograms(get("tare")), Fittings: unit.Kilograms(get("fittings")), NetFill: unit.Kilograms(get("net_fill")),
		Capacity: unit.Litres(get("water_capacity")), MinPressure: unit.Bar(get("min_pressure")), Seed: 1,
	}
	var truth struct {
		RunOut time.Time `json:"run_out"`
		Leak   *worldLeak
		Rezero [][2]any
	}
	b, err := os.ReadFile(filepath.Join(dir, "truth", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &truth); err != nil {
		t.Fatal(err)
	}
	w.leak, w.runOut = truth.Leak, truth.RunOut
	for _, z := range truth.Rezero {
		if z[1].(float64) < 0 {
			at, err := time.Parse(time.RFC3339, z[0].(string))
			if err != nil {
				t.Fatal(err)
			}
			w.rezero = append(w.rezero, at)
		}
	}
	w.weighings = readWeighings(t, filepath.Join(dir, name, "weighings.csv"))
	return w
}

func readWeighings(t testing.TB, path string) []record.Event {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(bufio.NewReader(f))
	r.ReuseRecord = true
	var out []record.Event
	for n := 0; ; n++ {
		rec, err := r.Read()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		if n == 0 {
			continue
		}
		at, err := time.Parse(time.RFC3339, rec[0])
		if err != nil {
			t.Fatal(err)
		}
		kg, err := strconv.ParseFloat(rec[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		w := record.Event{Kind: record.Weighed, At: at, Gross: unit.Kilograms(kg), Origin: record.Origin(rec[3])}
		if rec[2] != "" {
			c, err := strconv.ParseFloat(rec[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			w.Temp, w.HasTemp = unit.Celsius(c), true
		}
		out = append(out, w)
	}
}

// names lists the worlds of the given families.
func names(t testing.TB, dir string, families ...string) []string {
	t.Helper()
	var out []string
	for _, f := range families {
		m, err := filepath.Glob(filepath.Join(dir, f+"-*"))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range m {
			out = append(out, filepath.Base(p))
		}
	}
	return out
}

// line is one line of a replay's output.
type line struct {
	Record string         `json:"record"`
	At     time.Time      `json:"at"`
	Kind   string         `json:"kind,omitempty"`
	Text   string         `json:"text,omitempty"`
	Gas    map[string]any `json:"gas_kg,omitempty"`
	RunOut map[string]any `json:"run_out,omitempty"`
}

// replay runs a world through a Cylinder. Each finding and a forecast per day go to out if it is not nil.
func replay(w world, out func(line), each func(Finding)) {
	c := New(w.opt)
	var next time.Time
	for i, x := range w.weighings {
		if i == 0 {
			c.Apply(record.Event{At: x.At.Add(-time.Hour), Kind: record.Filled, Net: w.opt.NetFill})
			next = x.At.Add(24 * time.Hour)
		}
		for out != nil && !x.At.Before(next) {
			out(forecastRecord(c.Outlook(next)))
			next = next.Add(24 * time.Hour)
		}
		for _, f := range c.Apply(x) {
			each(f)
		}
	}
	if out != nil {
		out(forecastRecord(c.Outlook(c.last)))
	}
}

func forecastRecord(o Outlook) line {
	return line{
		Record: "forecast", At: o.At, Gas: map[string]any{"mean": o.Gas.Mean / 1000, "sd": o.Gas.SD / 1000},
		RunOut: quantiles(o.At, o.RunOut),
	}
}

func quantiles(at time.Time, d runout.Distribution) map[string]any {
	q := map[string]any{}
	for k, p := range map[string]float64{"p05": .05, "p10": .1, "p25": .25, "p50": .5, "p75": .75, "p90": .9, "p95": .95} {
		q[k] = nil
		if !d.Known() {
			continue
		}
		if t, ok := d.Quantile(p).After(at); ok && float64(d.Quantile(p)) < 20*365 {
			q[k] = t.UTC().Format(time.RFC3339)
		}
	}
	return q
}

// noticeKind is what the household engine calls a finding; empty: not told as a notice.
func noticeKind(k FindingKind) string {
	switch k {
	case AbruptLoss, SlowLoss:
		return "possible-leak"
	case FillSeen:
		return "fill-seen"
	case LossStopped, Returned, ObjectOff:
		return ""
	}
	return "odd-reading"
}

var kindNames = map[FindingKind]string{
	AbruptLoss: "abrupt-loss", SlowLoss: "slow-loss", LossStopped: "loss-stopped", Lifted: "lifted", Returned: "returned",
	ObjectOn: "object-on", ObjectOff: "object-off", ZeroStep: "zero-step", FillSeen: "fill-seen", Stuck: "stuck",
	TemperatureDrift: "temperature-drift", WrongUnit: "wrong-unit", Implausible: "implausible", Rebased: "rebased", FillGone: "fill-gone",
}

// TestWorlds holds the findings over simulated households with known truth (../shared/worlds) to what is asked.
func TestWorlds(t *testing.T) {
	dir := worldsDir(t)
	all := names(t, dir, "leak", "manual")
	if !testing.Short() { // these have many readings: every second one
		for i, name := range names(t, dir, "trouble", "auto") {
			if i%2 == 0 {
				all = append(all, name)
			}
		}
	}
	var falses, years float64
	for _, name := range all {
		w := loadWorld(t, dir, name)
		found := false
		replay(w, nil, func(f Finding) {
			switch v := verdict(w, f); {
			case v == "  FALSE":
				t.Logf("%s: %s at %v: %+v", name, kindNames[f.Kind], f.At, f)
				falses++
			case v != "" && v != "  asked":
				found = true
			}
		})
		end := w.runOut
		if w.leak != nil {
			end = w.leak.Start
			last := w.weighings[len(w.weighings)-1].At
			if seen := last.Sub(w.leak.Start) > 2*last.Sub(w.weighings[len(w.weighings)-2].At); seen && !found {
				t.Errorf("%s: a %s loss of %.1f g/h from %v was not found", name, w.leak.Kind, w.leak.PerHour, w.leak.Start)
			}
		}
		years += end.Sub(w.weighings[0].At).Hours() / 8766
	}
	if falses > 0.15*years {
		t.Errorf("%.0f false alarms in %.1f years", falses, years)
	}
}

// TestWriteWorlds writes what a replay would, for ../shared/scoring/score.py, into the folder named by
// TAREBELL_WORLDS_OUT.
func TestWriteWorlds(t *testing.T) {
	to := os.Getenv("TAREBELL_WORLDS_OUT")
	if to == "" {
		t.Skip("TAREBELL_WORLDS_OUT is not set")
	}
	dir := worldsDir(t)
	only := os.Getenv("TAREBELL_WORLDS_ONLY")
	for _, name := range names(t, dir, "auto", "manual", "leak", "trouble") {
		if !strings.Contains(name, only) {
			continue
		}
		w := loadWorld(t, dir, name)
		f, err := os.Create(filepath.Join(to, name+".jsonl"))
		if err != nil {
			t.Fatal(err)
		}
		buf := bufio.NewWriter(f)
		enc := json.NewEncoder(buf)
		replay(w, func(r line) {
			if err := enc.Encode(r); err != nil {
				t.Fatal(err)
			}
		}, func(x Finding) {
			t.Logf("%s %s %-18s since %s mass %7.0f ± %4.0f rate %6.1f ± %5.1f%s", name, x.At.Format("01-02 15:04"), kindNames[x.Kind],
				x.Since.Format("01-02 15:04"), x.Mass, x.MassSD, x.Rate, x.RateSD, verdict(w, x))
			if k := noticeKind(x.Kind); k != "" {
				if err := enc.Encode(line{Record: "notice", At: x.At, Kind: k, Text: kindNames[x.Kind]}); err != nil {
					t.Fatal(err)
				}
			}
		})
		if err := buf.Flush(); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// verdict compares a finding with the truth.
func verdict(w world, f Finding) string {
	if noticeKind(f.Kind) != "possible-leak" {
		return ""
	}
	if w.leak == nil || f.At.Before(w.leak.Start) {
		for _, z := range w.rezero {
			if !f.At.Before(z) && f.At.Sub(z) <= 48*time.Hour {
				return "  asked"
			}
		}
		return "  FALSE"
	}
	h := f.At.Sub(w.leak.Start).Hours()
	return "  true, after " + strconv.FormatFloat(math.Round(h*10)/10, 'f', -1, 64) + " h at " +
		strconv.FormatFloat(math.Round(w.leak.PerHour*10)/10, 'f', -1, 64) + " g/h " + w.leak.Kind
}
