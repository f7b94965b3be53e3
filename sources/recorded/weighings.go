package recorded

import (
	"errors"
	"io"
	"iter"
	"math"
	"strconv"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

// The columns of weighings.csv; the first four are the fixed contract.
var weighingColumns = []string{"time", "gross_kg", "temp_c", "source", "cylinder", "by", "net", "sd_g"}

const (
	colTime = iota
	colGross
	colTemp
	colSource
	colCylinder
	colBy
	colNet
	colSD

	contractColumns = 4
)

var weighingTable = kind{weighingColumns, contractColumns, (*table).weighing}

// WeighingRows reads weighings and hands them out in order of time; those of the same time keep the order of the file, and a row that
// stands there twice counts once. If there are mistakes it yields the first few of them as a mistake.List, and nothing else. File names the input in errors.
//
// A table that is in order of time is read twice and takes no memory to speak of, unless r is no io.Seeker. Others are put in order in memory,
// and refused above 200,000 rows.
func WeighingRows(file string, r io.Reader) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		before := record.Event{}
		for row, err := range weighingTable.rows(file, r) {
			if err == nil && row.Event == before { // it says nothing new
				continue
			}
			before = row.Event
			if !yield(row, err) {
				return
			}
		}
	}
}

func (t *table) weighing() (record.Event, error) {
	w := record.Event{Kind: record.Weighed}
	for _, columns := range []func(*record.Event) error{t.fill, t.fillOptional} {
		if err := columns(&w); err != nil {
			return w, err
		}
	}
	if f := (*sources.Failure)(nil); errors.As(sources.Check(w, time.Time{}), &f) {
		line, _ := t.csv.FieldPos(0)
		return w, &mistake.Mistake{File: t.file, Line: line, Read: f.Read, Want: f.Want}
	}
	return w, nil
}

// fill reads the columns of the contract.
func (t *table) fill(w *record.Event) (err error) {
	if w.At, err = t.timeColumn(colTime); err != nil {
		return err
	}
	kg, err := t.numberColumn(colGross, "want the gross weight in kg, for example 24.875")
	if err != nil {
		return err
	}
	w.Gross = unit.MassOf(kg, unit.GramsPerKilogram)
	if t.get(colTemp) != "" {
		c, err := t.numberColumn(colTemp, "want degrees Celsius, for example 17.3, or nothing")
		if err != nil {
			return err
		}
		if sources.TempOK(unit.Celsius(c)) { // a dead sensor does not spoil the weight
			w.Temp, w.HasTemp = unit.Celsius(c), true
		}
	}
	if w.Origin = record.Origin(t.textColumn(colSource)); w.Origin != record.Scale && w.Origin != record.Manual {
		return t.fault(colSource, "want scale or manual")
	}
	return nil
}

// fillOptional reads the other columns, as far as they are there. What a source knew of its uncertainty is not used: the forecast learns it.
func (t *table) fillOptional(w *record.Event) error {
	w.Cylinder, w.By = t.textColumn(colCylinder), t.textColumn(colBy)
	if net := t.get(colNet); net != "" && net != "false" {
		return t.fault(colNet, "want false: the gross weight, with cylinder and fittings")
	}
	if t.get(colSD) != "" {
		_, err := t.numberColumn(colSD, "want grams, for example 20, or nothing")
		return err
	}
	return nil
}

// numberColumn reads a plain finite decimal number.
func (t *table) numberColumn(i int, want string) (float64, error) {
	s := t.get(i)
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(x, 0) || math.IsNaN(x) || !plain(s) {
		return 0, t.fault(i, want)
	}
	return x, nil
}

// plain refuses what ParseFloat takes and no file should hold: hexadecimal and digit groups.
func plain(s string) bool {
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return false
		}
	}
	return true
}
