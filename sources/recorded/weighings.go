package recorded

import (
	"io"
	"iter"
	"math"
	"strconv"
	"time"

	"tarebell/forecast/unit"
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

var weighingTable = kind[sources.Weighing]{weighingColumns, contractColumns, (*table).weighing, func(w sources.Weighing) time.Time { return w.At }}

// WeighingRows reads weighings and hands them out in order of time; those of the same time keep the order of the file, and a row that
// stands there twice counts once. If there are mistakes it yields the first few of them as an Errors, and nothing else. File names the input in errors.
//
// A table that is in order of time is read twice and takes no memory to speak of, unless r is no io.Seeker. Others are put in order in memory,
// and refused above 200,000 rows.
func WeighingRows(file string, r io.Reader) iter.Seq2[Row[sources.Weighing], error] {
	return func(yield func(Row[sources.Weighing], error) bool) {
		before := sources.Weighing{}
		for row, err := range weighingTable.rows(file, r) {
			if err == nil && row.Value == before { // it says nothing new
				continue
			}
			before = row.Value
			if !yield(row, err) {
				return
			}
		}
	}
}

// Weighings is WeighingRows without the lines.
func Weighings(file string, r io.Reader) iter.Seq2[sources.Weighing, error] {
	return func(yield func(sources.Weighing, error) bool) {
		for row, err := range WeighingRows(file, r) {
			if !yield(row.Value, err) {
				return
			}
		}
	}
}

func (t *table) weighing() (w sources.Weighing, err error) {
	if err := t.next(); err != nil {
		return w, err
	}
	if fault := t.fill(&w); fault != nil {
		return sources.Weighing{}, fault
	}
	if err := sources.Check(w); err != nil {
		line, _ := t.csv.FieldPos(0)
		f := err.(*sources.Failure)
		return sources.Weighing{}, &Error{File: t.file, Line: line, Read: f.Read, Want: f.Want}
	}
	return w, nil
}

func (t *table) fill(w *sources.Weighing) *Error {
	at, fault := t.timeColumn(colTime)
	if fault != nil {
		return fault
	}
	kg, fault := t.numberColumn(colGross, "want the gross weight in kg, for example 24.875")
	if fault != nil {
		return fault
	}
	w.At, w.Received, w.Gross = at, at, sources.Mass(kg, unit.GramsPerKilogram)
	if t.get(colTemp) != "" {
		c, fault := t.numberColumn(colTemp, "want degrees Celsius, for example 17.3, or nothing")
		if fault != nil {
			return fault
		}
		w.Temp, w.HasTemp = unit.Celsius(c), true
		if !sources.TempOK(w.Temp) { // a dead sensor does not spoil the weight
			w.Note = "temperature of " + t.get(colTemp) + " °C not used"
			w.Temp, w.HasTemp = 0, false
		}
	}
	switch t.get(colSource) {
	case "scale":
		w.Origin = sources.Scale
	case "manual":
		w.Origin = sources.Manual
	default:
		return t.fault(colSource, "want scale or manual")
	}
	if fault := t.fillOptional(w); fault != nil {
		return fault
	}
	w.Key = sources.Key(w.Origin, w.Item, w.At)
	return nil
}

func (t *table) fillOptional(w *sources.Weighing) *Error {
	w.Item, w.By = t.textColumn(colCylinder), t.textColumn(colBy)
	switch t.get(colNet) {
	case "", "false":
	case "true":
		w.Net = true
	default:
		return t.fault(colNet, "want true or false")
	}
	if t.get(colSD) != "" {
		sd, fault := t.numberColumn(colSD, "want grams, for example 20, or nothing")
		if fault != nil {
			return fault
		}
		w.SD = unit.Grams(sd)
	}
	return nil
}

// numberColumn reads a plain finite decimal number.
func (t *table) numberColumn(i int, want string) (float64, *Error) {
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
