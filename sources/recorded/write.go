package recorded

import (
	"encoding/csv"
	"io"
	"iter"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// WriteWeighings writes weighings.csv: with the four columns of the contract, or with all columns if full, so
// that nothing is lost.
func WriteWeighings(w io.Writer, ws iter.Seq2[record.Event, error], full bool) error {
	return write(w, weighingColumns, contractColumns, full, ws, func(e record.Event) []string {
		cells := []string{record.FormatTime(e.At), unit.Number(e.Gross.Kilograms(), 3, 9), "", string(e.Origin), e.Cylinder, e.By, "", ""}
		if e.HasTemp {
			cells[colTemp] = unit.Number(float64(e.Temp), 1, 4)
		}
		return cells
	})
}

// WriteEvents writes events.csv: with the three columns of the contract, or with all columns if full.
func WriteEvents(w io.Writer, es iter.Seq2[record.Event, error], full bool) error {
	return write(w, eventColumns, eventContractLen, full, es, func(e record.Event) []string {
		return []string{record.FormatTime(e.At), string(e.Kind), e.Value(), e.Cylinder, e.By}
	})
}

func write(w io.Writer, columns []string, contract int, full bool, es iter.Seq2[record.Event, error], cells func(record.Event) []string) error {
	n := len(columns)
	if !full {
		n = contract
	}
	c := csv.NewWriter(w)
	if err := c.Write(columns[:n]); err != nil {
		return err
	}
	for e, err := range es {
		if err != nil {
			return err
		}
		if err := c.Write(cells(e)[:n]); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}
