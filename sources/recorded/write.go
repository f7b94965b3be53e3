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
	return weighingTable.write(w, full, ws, func(e record.Event) []string {
		temp := ""
		if e.HasTemp {
			temp = unit.Number(float64(e.Temp), 1, 4)
		}
		return []string{record.FormatTime(e.At), unit.Number(e.Gross.Kilograms(), 3, 9), temp, string(e.Origin), e.Cylinder, e.By, "", ""}
	})
}

// WriteEvents writes events.csv: with the three columns of the contract, or with all columns if full.
func WriteEvents(w io.Writer, es iter.Seq2[record.Event, error], full bool) error {
	return eventTable.write(w, full, es, func(e record.Event) []string {
		return []string{record.FormatTime(e.At), string(e.Kind), e.Value(), e.Cylinder, e.By}
	})
}

func (k kind) write(w io.Writer, full bool, es iter.Seq2[record.Event, error], cells func(record.Event) []string) error {
	n := k.need
	if full {
		n = len(k.columns)
	}
	c := csv.NewWriter(w)
	if err := c.Write(k.columns[:n]); err != nil {
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
