package trial

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// ReadSeries reads the daily use of real homes, each scaled to mean 1: a CSV with the columns series and value, or a folder with
// water_daily.csv, electricity_sgsc_daily.csv and electricity_sceaux_daily.csv, one home (or its kitchen) a column.
func ReadSeries(path string) ([][]float64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("daily use of real homes: %w", err)
	}
	files := []string{path}
	if info.IsDir() {
		files = nil
		for _, f := range []string{"water_daily.csv", "electricity_sgsc_daily.csv", "electricity_sceaux_daily.csv"} {
			files = append(files, filepath.Join(path, f))
		}
	}
	var out [][]float64
	for _, f := range files {
		all, err := readColumns(f)
		if err != nil {
			return nil, fmt.Errorf("daily use of real homes: %s: %w", f, err)
		}
		out = append(out, all...)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("daily use of real homes: %s: no column of more than 200 days", path)
	}
	return out, nil
}

func readColumns(path string) ([][]float64, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	var names []string
	by := map[string][]float64{}
	add := func(name, text string) error {
		if text == "" {
			return nil
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return fmt.Errorf("column %s: %q: want a number", name, text)
		}
		if _, ok := by[name]; !ok {
			names = append(names, name)
		}
		by[name] = append(by[name], max(0, v))
		return nil
	}
	long := slices.Equal(rows[0], []string{"series", "value"})
	for _, row := range rows[1:] {
		if long {
			if err := add(row[0], row[1]); err != nil {
				return nil, err
			}
			continue
		}
		for i, name := range rows[0] {
			if name == "date" || name == "filled" || strings.HasSuffix(name, "_wh") && !strings.Contains(name, "kitchen") {
				continue
			}
			if err := add(name, row[i]); err != nil {
				return nil, err
			}
		}
	}
	var out [][]float64
	for _, name := range names {
		if m := mean(by[name]); len(by[name]) > 200 && m > 0 {
			for i := range by[name] {
				by[name][i] /= m
			}
			out = append(out, by[name])
		}
	}
	return out, nil
}
