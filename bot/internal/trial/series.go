package trial

import (
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// meters are the files of a folder of daily meters, one home (or its kitchen) a column.
var meters = []string{"water_daily.csv", "electricity_sgsc_daily.csv", "electricity_sceaux_daily.csv"}

// ReadSeries reads the daily use of real homes from a folder with meters, each scaled to mean 1. Homes of 200 days and less are left out.
func ReadSeries(folder string) (out [][]float64, err error) {
	for _, name := range meters {
		all, err := readMeter(filepath.Join(folder, name))
		if err != nil {
			return nil, fmt.Errorf("daily use of real homes: %w", err)
		}
		out = append(out, all...)
	}
	return out, nil
}

// readMeter reads the columns of a file, but for the date, what says which days were filled in, and rooms that are no kitchen.
func readMeter(path string) (out [][]float64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err == nil && len(rows) == 0 {
		err = io.ErrUnexpectedEOF
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	for i, name := range rows[0] {
		if name == "date" || name == "filled" || strings.HasSuffix(name, "_wh") && !strings.Contains(name, "kitchen") {
			continue
		}
		var days []float64
		for line, row := range rows[1:] {
			if row[i] == "" {
				continue
			}
			v, err := strconv.ParseFloat(row[i], 64)
			if err != nil {
				return nil, fmt.Errorf("%s:%d: %s %q: want a number", path, line+2, name, row[i])
			}
			days = append(days, max(0, v))
		}
		if m := mean(days); len(days) > 200 && m > 0 {
			for i := range days {
				days[i] /= m
			}
			out = append(out, days)
		}
	}
	return out, nil
}
