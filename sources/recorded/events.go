package recorded

import (
	"errors"
	"io"

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

var eventTable = kind{eventColumns, eventContractLen, (*table).event}

// EventRows reads a whole table, sorted by time; events of the same time keep the order of the file. If there are mistakes the error is the
// first few of them as a mistake.List. File names the input in errors.
func EventRows(file string, r io.Reader) ([]Row, error) { return eventTable.all(file, r) }

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
