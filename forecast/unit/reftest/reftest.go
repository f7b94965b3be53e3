// Package reftest hands published and independently computed values to tests. Only tests import it.
//
// The tables in testdata are copies of reference values gathered for this project; none was made with
// its code. testdata/README.md says where each comes from.
// Homes reads metered homes from the folder beside the repository, where it is there.
package reftest

import (
	"embed"
	"encoding/csv"
	"math"
	"strconv"
	"testing"
)

//go:embed testdata/*.csv
var tables embed.FS

// Row is one line of a table, by column name.
type Row map[string]string

// Rows reads a table such as "co2_saturation_published" and fails the test when it is missing or empty.
func Rows(t testing.TB, table string) []Row {
	t.Helper()
	f, err := tables.Open("testdata/" + table + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil || len(lines) < 2 {
		t.Fatalf("%s: %d lines, %v", table, len(lines), err)
	}
	var rows []Row
	for _, line := range lines[1:] {
		row := Row{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// Num is the number in column name; NaN when the cell is empty.
func (r Row) Num(t testing.TB, name string) float64 {
	t.Helper()
	cell, ok := r[name]
	if !ok {
		t.Fatalf("no column %q", name)
	}
	if cell == "" {
		return math.NaN()
	}
	x, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		t.Fatalf("column %q: %v", name, err)
	}
	return x
}

// Reporter is what Near and Within need of a *testing.T, a *testing.B or a *rapid.T.
type Reporter interface {
	Helper()
	Errorf(format string, args ...any)
}

// Near reports an error unless got is within a relative tolerance of want.
func Near(t Reporter, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: got %.10g, want %.10g within %g relative (off by %.2g)", what, got, want, relative, got/want-1)
	}
}

// Within reports an error unless got is within an absolute tolerance of want.
func Within(t Reporter, what string, got, want, absolute float64) {
	t.Helper()
	if !(math.Abs(got-want) <= absolute) {
		t.Errorf("%s: got %.10g, want %.10g within %g", what, got, want, absolute)
	}
}
