package forecast

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// TestHostile feeds readings and events of any kind and size, at any pace: nothing panics and nothing that is not a
// finite number comes out.
func TestHostile(t *testing.T) {
	kinds := []record.Kind{record.Filled, record.Made, record.Away, record.Valve, record.RanDry, record.Answer}
	causes := []record.Cause{"", record.Unknown, record.Used, record.Lost, record.Repaired, record.Moved}
	rapid.Check(t, func(t *rapid.T) {
		c := New(Options{Tare: 8000, Fittings: 500, NetFill: unit.Grams(rapid.SampledFrom([]float64{0, 2270, 10000}).Draw(t, "fill")), Seed: 1})
		at := time.Date(2026, 3, 27, 20, 0, 0, 0, time.UTC)
		level := 14000.0
		finite := func(what string, x float64) {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%s is %g", what, x)
			}
		}
		for range rapid.IntRange(1, 20).Draw(t, "stretches") {
			step := rapid.SampledFrom([]time.Duration{0, time.Second, time.Minute, 10 * time.Minute, time.Hour, 30 * time.Hour, 90 * 24 * time.Hour}).Draw(t, "step")
			fall := rapid.SampledFrom([]float64{0, 0, 1, 30, 700, -500}).Draw(t, "fall")
			level += rapid.SampledFrom([]float64{0, 0, 0, 800, -800, 6000, -14000, 9e5, 1e9, -1e12}).Draw(t, "jump")
			scatter := rapid.SampledFrom([]float64{0, 5, 50, 5000}).Draw(t, "scatter")
			origin := rapid.SampledFrom([]record.Origin{record.Manual, record.Scale, record.Scale, record.Scale, record.Scale}).Draw(t, "origin")
			warm := rapid.Bool().Draw(t, "warm")
			if rapid.IntRange(0, 3).Draw(t, "event?") == 0 {
				c.Apply(record.Event{
					At: at, Kind: rapid.SampledFrom(kinds).Draw(t, "event"), Net: 9000, Count: 2, Until: at.Add(48 * time.Hour),
					Open: rapid.Bool().Draw(t, "open"), Cause: rapid.SampledFrom(causes).Draw(t, "cause"),
				})
			}
			for i := range rapid.IntRange(1, 30).Draw(t, "readings") {
				at = at.Add(step)
				level -= fall
				w := record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(level + scatter*math.Sin(float64(7*i))), Origin: origin, HasTemp: warm, Temp: unit.Celsius(20 + i%5)}
				for _, f := range c.Apply(w) {
					finite("mass", float64(f.Mass))
					finite("its sd", float64(f.MassSD))
					finite("rate", float64(f.Rate))
					finite("its sd", float64(f.RateSD))
				}
			}
		}
		c.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(math.NaN())})
		o := c.Outlook(at)
		for what, n := range map[string]Normal{"gas": o.Gas, "use": o.Use, "loss": o.Loss} {
			finite(what, n.Mean)
			finite(what+" sd", n.SD)
		}
	})
}
