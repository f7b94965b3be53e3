package config

import (
	"strings"
	"testing"
)

// TestDoubts: what is unlikely is said with the usual range; an ordinary household has none.
func TestDoubts(t *testing.T) {
	read := func(cylinder, rest string) []Doubt {
		t.Helper()
		c, err := Parse("house.yaml", []byte("household: {name: Club, timezone: Europe/Vienna}\ncylinders:\n  - {name: main, "+cylinder+"}\n"+rest))
		if err != nil {
			t.Fatal(err)
		}
		return c.Doubts()
	}
	if d := read("tare: 14.30 kg, fittings: 1.10 kg, net_fill: 10 kg, water_capacity: 14.9 L", "refill: {price: 42 EUR, alternative: 0.38 EUR}\n"); len(d) > 0 {
		t.Errorf("ordinary: %v", d)
	}
	// The lightest and the heaviest of the table of sizes: 46 lb for 50 lb, 14 lb for 5 lb.
	for _, c := range []string{"tare: 46 lb, net_fill: 50 lb", "tare: 14 lb, net_fill: 5 lb"} {
		if d := read(c, ""); len(d) > 0 {
			t.Errorf("%s: %v", c, d)
		}
	}
	for _, c := range []struct{ cylinder, rest, path, says string }{
		{"tare: 14.30 lb, net_fill: 10 kg", "", "cylinders[0].tare", "0.9 to 3 times"},
		{"tare: 40 kg, net_fill: 10 kg", "", "cylinders[0].tare", "40 kg for 10 kg"},
		{"tare: 14.30 kg, net_fill: 10 kg, water_capacity: 30 L", "", "cylinders[0].water_capacity", "0.54 to 0.75"},
		{"tare: 14.30 kg, net_fill: 10 kg, fittings: 9 kg", "", "cylinders[0].fittings", "1 to 3 kg"},
		{"tare: 14.30 kg, net_fill: 10 kg", "refill: {alternative: 38 EUR}\n", "refill.alternative", "38 EUR for one litre"},
		{"tare: 14.30 kg, net_fill: 10 kg", "refill: {lead_days: 90}\n", "refill.lead_days", "1 to 14"},
		{"tare: 14.30 kg, net_fill: 10 kg", "schedule: {status: \"0 * * * *\"}\n", "schedule.status", "more than once a day"},
	} {
		d := read(c.cylinder, c.rest)
		if len(d) != 1 || d[0].Path != c.path || !strings.Contains(d[0].Said, c.says) {
			t.Errorf("%s %s: %v, want %s: …%s…", c.cylinder, c.rest, d, c.path, c.says)
		}
	}
}
