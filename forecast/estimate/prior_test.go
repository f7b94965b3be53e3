package estimate

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// TestWanderingOfRealHomes compares the prior of how far a household's level wanders with the scatter of ln(weekly use) about its
// mean in homes whose water or power was metered (sources: see series), weeks away left out. Half of the homes should wander less.
func TestWanderingOfRealHomes(t *testing.T) {
	var scatter []float64
	for _, file := range []string{"water_daily.csv", "electricity_sgsc_daily.csv", "electricity_sceaux_daily.csv"} {
		for _, home := range series(t, file) {
			scatter = append(scatter, stat.PopStdDev(weeks(home), nil))
		}
	}
	slices.Sort(scatter)
	t.Logf("%.2f", scatter)
	if len(scatter) < 14 {
		t.Fatalf("%d homes, want 14", len(scatter))
	}
	below, _ := slices.BinarySearch(scatter, lawSD)
	if share := float64(below) / float64(len(scatter)); math.Abs(share-0.5) > 0.15 {
		t.Errorf("%.2f of the homes wander less than the prior's median of %v, want half", share, lawSD)
	}
}

// weeks is ln of the use of whole weeks; weeks below a quarter of the median count as away and are left out.
func weeks(daily []float64) (logs []float64) {
	var use []float64
	for w := range slices.Chunk(daily, 7) {
		if len(w) == 7 {
			use = append(use, stat.Mean(w, nil))
		}
	}
	sorted := slices.Sorted(slices.Values(use))
	away := sorted[len(sorted)/2] / 4
	for _, u := range use {
		if u > away {
			logs = append(logs, math.Log(u))
		}
	}
	return logs
}
