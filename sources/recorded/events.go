package recorded

import (
	"errors"
	"io"

	"tarebell/forecast/unit/record"
)

// The columns of events.csv; the first three are the fixed contract.
var eventColumns = []string{"time", "event", "value", "cylinder", "by"}

var eventTable = kind{eventColumns, 3, (*table).event}

// EventRows reads a whole table, sorted by time; events of the same time keep the order of the file. If there are mistakes the error is the
// first few of them as a mistake.List. File names the input in errors.
func EventRows(file string, r io.Reader) ([]Row, error) { return eventTable.all(file, r) }

func (t *table) event() (record.Event, error) {
	at, err := t.time()
	if err != nil {
		return record.Event{}, err
	}
	e, err := record.Read(record.Kind(t.text("event")), t.text("value"))
	switch {
	case errors.Is(err, record.ErrKind):
		return e, t.fault("event", err.Error())
	case err != nil:
		return e, t.fault("value", err.Error())
	}
	e.At, e.Cylinder, e.By = at, t.text("cylinder"), t.text("by")
	return e, nil
}
