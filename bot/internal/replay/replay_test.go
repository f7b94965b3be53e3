package replay

import (
	"bytes"
	"context"
	"encoding/json"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

var start = time.Date(2027, 1, 4, 7, 10, 0, 0, time.UTC)

func options() household.Options {
	return household.Options{Voice: notice.Voice{Zone: time.UTC}, ReviewHour: 8,
		Cylinders: []household.Cylinder{{Name: "main", Forecast: forecast.Options{Tare: 9_000, Fittings: 1_000, NetFill: 6_000, Seed: 3}}},
		Refill:    household.Refill{Refill: record.Refill{LeadDays: 3, Risk: 0.05}}}
}

// month is a filling and a month of readings, one an hour.
func month(yield func(record.Event, error) bool) {
	if !yield(record.Event{At: start.Add(-time.Hour), Cylinder: "main", Kind: record.Filled, Net: 6_000}, nil) {
		return
	}
	r := rand.New(rand.NewPCG(1, 1))
	for h := range 24 * 30 {
		w := record.Event{Kind: record.Weighed, Origin: record.Scale, Cylinder: "main", At: start.Add(time.Duration(h) * time.Hour),
			Gross: unit.Grams(15_900 - 5*float64(h) + 9*r.NormFloat64())}
		if !yield(w, nil) {
			return
		}
	}
}

func replayed(t *testing.T) string {
	t.Helper()
	var out bytes.Buffer
	if err := Run(context.Background(), options(), month, &out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

func TestSameInputSameBytes(t *testing.T) {
	if a, b := replayed(t), replayed(t); a != b {
		t.Error("two runs differ")
	}
}

// TestContract holds the records against the fixed contract of replay.
func TestContract(t *testing.T) {
	forecasts := 0
	for i, line := range strings.Split(strings.TrimSpace(replayed(t)), "\n") {
		var r map[string]any
		if err := json.Unmarshal([]byte(line), &r); err != nil {
			t.Fatalf("line %d: %v", i+1, err)
		}
		need := []string{"at", "kind", "severity", "text", "cylinder"}
		if r["record"] == "forecast" {
			need = []string{"at", "gas_kg", "use_g_per_day", "loss_g_per_h", "liquid_dry", "run_out", "book_by"}
			want := start.Add(time.Duration(forecasts+1) * 24 * time.Hour)
			if forecasts == 29 {
				want = start.Add((24*30 - 1) * time.Hour) // after the last weighing
			}
			if at, _ := time.Parse(time.RFC3339, r["at"].(string)); !at.Equal(want) {
				t.Errorf("forecast %d at %s, want %s", forecasts, at, want)
			}
			forecasts++
			rising(t, r["run_out"].(map[string]any))
			rising(t, r["liquid_dry"].(map[string]any))
		}
		for _, k := range need {
			if _, ok := r[k]; !ok {
				t.Errorf("line %d lacks %q: %s", i+1, k, line)
			}
		}
	}
	if forecasts != 30 {
		t.Errorf("%d forecasts, want 29 days and the last", forecasts)
	}
}

// rising: seven quantiles in order; null only beyond the horizon, so only at the end.
func rising(t *testing.T, q map[string]any) {
	t.Helper()
	var last time.Time
	beyond := false
	for _, k := range []string{"p05", "p10", "p25", "p50", "p75", "p90", "p95"} {
		v, ok := q[k]
		if !ok {
			t.Fatalf("no %s", k)
		}
		if v == nil {
			beyond = true
			continue
		}
		at, err := time.Parse(time.RFC3339, v.(string))
		if err != nil || at.Before(last) || beyond {
			t.Errorf("%s is %v after %v", k, v, last)
		}
		last = at
	}
}

// TestTimeGoesOn: the reminder to book comes although no weighing follows any more.
func TestTimeGoesOn(t *testing.T) {
	reminded := false
	for _, line := range strings.Split(replayed(t), "\n") {
		reminded = reminded || strings.Contains(line, `"kind":"refill-due"`)
	}
	if !reminded {
		t.Error("the gas of a household that stopped weighing ran out, and nobody was reminded")
	}
}
