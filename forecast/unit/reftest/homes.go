package reftest

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// Root is the folder of the module, above the test's own.
func Root(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above")
		}
		dir = up
	}
}

// Homes reads the daily use of real households from ../shared/data beside the repository; days that were not measured are NaN, and
// the first is a Monday. It skips the test where the data are absent. Sources, all daily use of one home each:
// water_daily.csv, DAIAD project trial A, CC BY-SA 4.0; electricity_sceaux_daily.csv, Hebrail & Berard (2012), UCI Machine Learning
// Repository, doi:10.24432/C58K54, CC BY 4.0; electricity_sgsc_daily.csv, Smart-Grid Smart-City Customer Trial Data, CC BY 3.0 AU.
func Homes(t *testing.T, file string) (homes [][]float64) {
	t.Helper()
	f, err := os.Open(filepath.Join(Root(t), "..", "shared", "data", file))
	if err != nil {
		t.Skip("the series are not here: ", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for k := 1; k < len(rows[0]); k++ {
		if name := rows[0][k]; name != "energy_kwh" && !strings.HasPrefix(name, "house") {
			continue
		}
		first, err := time.Parse(time.DateOnly, rows[1][0])
		if err != nil {
			t.Fatal(err)
		}
		use := make([]float64, (first.Weekday()+6)%7)
		for i := range use {
			use[i] = math.NaN()
		}
		for _, r := range rows[1:] {
			x, err := strconv.ParseFloat(r[k], 64)
			if err != nil {
				x = math.NaN()
			}
			use = append(use, math.Max(x, 0))
		}
		homes = append(homes, use)
	}
	return homes
}
