package recorded

import (
	"errors"
	"io"
	"os"

	"tarebell/forecast/unit/record"
)

// The columns of events.csv; the first three are the fixed contract.
var eventColumns = []string{"time", "event", "value", "cylinder", "by"}

const (
	colEvent         = 1
	colValue         = 2
	colEventCylinder = 3
	colEventBy       = 4
	eventContractLen = 3
)

// LoadEvents reads a whole file, sorted by time; events of the same time keep the order of the file. If there
// are mistakes it returns the first few of them as a mistake.List.
func LoadEvents(file string) ([]record.Event, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return readEvents(file, f)
}

func readEvents(file string, r io.Reader) ([]record.Event, error) {
	return read(file, r, eventColumns, eventContractLen, (*table).event)
}

func (t *table) event() (record.Event, error) {
	at, err := t.timeColumn(colTime)
	if err != nil {
		return record.Event{}, err
	}
	e, err := record.Read(record.Kind(t.textColumn(colEvent)), t.textColumn(colValue))
	switch {
	case errors.Is(err, record.ErrKind):
		return e, t.fault(colEvent, err.Error())
	case err != nil:
		return e, t.fault(colValue, err.Error())
	}
	e.At, e.Cylinder, e.By = at, t.textColumn(colEventCylinder), t.textColumn(colEventBy)
	return e, nil
}
