package recorded

import (
	"encoding/csv"
	"io"
	"iter"
	"strconv"
	"strings"
	"time"

	"tarebell/forecast/unit"
	"tarebell/sources"
)

// WriteWeighings writes weighings.csv: with the four columns of the contract, or with all columns if full, so
// that nothing is lost. An error of the sequence ends the file after what came before it.
func WriteWeighings(w io.Writer, ws iter.Seq2[sources.Weighing, error], full bool) error {
	columns := weighingColumns
	if !full {
		columns = columns[:contractColumns]
	}
	return write(w, columns, func(row func([]string) error) error {
		cells := make([]string, len(weighingColumns))
		for x, err := range ws {
			if err != nil {
				return err
			}
			weighingCells(cells, x)
			if err := row(cells[:len(columns)]); err != nil {
				return err
			}
		}
		return nil
	})
}

func weighingCells(cells []string, w sources.Weighing) {
	clear(cells)
	cells[colTime] = string(appendTime(nil, w.At))
	cells[colGross] = exactly(w.Gross)
	if w.HasTemp {
		cells[colTemp] = decimal(float64(w.Temp), 4, 1)
	}
	cells[colSource] = string(w.Origin)
	cells[colCylinder], cells[colBy] = w.Item, w.By
	if w.Net {
		cells[colNet] = "true"
	}
	if w.SD > 0 {
		cells[colSD] = decimal(float64(w.SD), 3, 0)
	}
}

// WriteEvents writes events.csv: with the three columns of the contract, or with all columns if full. The value
// is Event.Value, or Event.Text if that is empty.
func WriteEvents(w io.Writer, es iter.Seq2[Event, error], full bool) error {
	columns := eventColumns
	if !full {
		columns = columns[:eventContractLen]
	}
	return write(w, columns, func(row func([]string) error) error {
		for e, err := range es {
			if err != nil {
				return err
			}
			value := e.Value
			if value == "" {
				value = e.Text()
			}
			cells := []string{string(appendTime(nil, e.At)), string(e.Kind), value, e.Item, e.By}
			if err := row(cells[:len(columns)]); err != nil {
				return err
			}
		}
		return nil
	})
}

func write(w io.Writer, header []string, rows func(row func([]string) error) error) error {
	c := csv.NewWriter(w)
	if err := c.Write(header); err != nil {
		return err
	}
	err := rows(c.Write)
	c.Flush()
	if err != nil {
		return err
	}
	return c.Error()
}

// kilograms writes m in kg with at least grams, at most milligrams.
func kilograms(m unit.Grams) string { return decimal(m.Kilograms(), 6, 3) }

// exactly writes m in kg with at most micrograms, which is how finely masses are kept.
func exactly(m unit.Grams) string { return decimal(m.Kilograms(), 9, 3) }

// decimal writes x with most decimals, without trailing zeros beyond least.
func decimal(x float64, most, least int) string {
	s := strconv.FormatFloat(x, 'f', most, 64)
	point := strings.IndexByte(s, '.')
	end := len(s)
	for end > point+1+least && s[end-1] == '0' {
		end--
	}
	if s = strings.TrimSuffix(s[:end], "."); strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// appendTime writes t as files have it: whole seconds without a fraction, else milliseconds.
func appendTime(b []byte, t time.Time) []byte {
	if t.Nanosecond()/int(time.Millisecond) == 0 {
		return t.UTC().AppendFormat(b, "2006-01-02T15:04:05Z")
	}
	return t.UTC().AppendFormat(b, "2006-01-02T15:04:05.000Z")
}
