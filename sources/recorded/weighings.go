package recorded

import (
	"errors"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
	"tarebell/forecast/unit/record"
	"tarebell/sources"
)

// The columns of weighings.csv; the first four are the fixed contract.
var weighingColumns = []string{"time", "gross_kg", "temp_c", "source", "cylinder", "by", "net", "sd_g"}

var weighingTable = kind{weighingColumns, 4, (*table).weighing}

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
	if w.At, err = t.time(); err != nil {
		return err
	}
	kg, err := t.number("gross_kg", "want the gross weight in kg, for example 24.875")
	if err != nil {
		return err
	}
	w.Gross = unit.MassOf(kg, unit.GramsPerKilogram)
	if t.get("temp_c") != "" {
		c, err := t.number("temp_c", "want degrees Celsius, for example 17.3, or nothing")
		if err != nil {
			return err
		}
		if sources.TempOK(unit.Celsius(c)) { // a dead sensor does not spoil the weight
			w.Temp, w.HasTemp = unit.Celsius(c), true
		}
	}
	if w.Origin = record.Origin(t.text("source")); w.Origin != record.Scale && w.Origin != record.Manual {
		return t.fault("source", "want scale or manual")
	}
	return nil
}

// fillOptional reads the other columns, as far as they are there. What a source knew of its uncertainty is not used: the forecast learns it.
func (t *table) fillOptional(w *record.Event) error {
	w.Cylinder, w.By = t.text("cylinder"), t.text("by")
	if net := t.get("net"); net != "" && net != "false" {
		return t.fault("net", "want false: the gross weight, with cylinder and fittings")
	}
	if t.get("sd_g") != "" {
		_, err := t.number("sd_g", "want grams, for example 20, or nothing")
		return err
	}
	return nil
}

// number reads a plain finite decimal number: no hexadecimal, no digit groups.
func (t *table) number(column, want string) (float64, error) {
	s := t.get(column)
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || strings.Trim(s, "0123456789.+-eE") != "" {
		return 0, t.fault(column, want)
	}
	return x, nil
}
