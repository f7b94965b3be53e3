package recorded

import (
	"io"
	"strings"
	"time"

	"tarebell/forecast/unit"
)

// Kind is what an event tells.
type Kind string

// The kinds, with the fields of Event they use. Those up to RanDry are the fixed contract of replay; the others
// come from an export.
const (
	Filled Kind = "filled"  // Net as printed on the receipt, 0 unknown; Tare of another cylinder, 0 the same; Paid and Currency
	Made   Kind = "made"    // Count servings
	Away   Kind = "away"    // Until
	Valve  Kind = "valve"   // Open
	Booked Kind = "booked"  // Day
	RanDry Kind = "ran-dry" //

	Unbooked Kind = "unbooked" //
	Mine     Kind = "mine"     // By will see to the refill
	Later    Kind = "later"    // remind again
	Answer   Kind = "answer"   // Cause

	Serving    Kind = "serving"     // Litres and CO2 of one serving, as the household found by weighing
	InUse      Kind = "in-use"      // the cylinder Item takes the place of Instead
	Calibrated Kind = "calibrated"  // the scale was checked with known masses
	CheckLater Kind = "check-later" // ask for that check again later
	Afresh     Kind = "afresh"      // Gross is right, whatever was believed before
	Absent     Kind = "absent"      // By is away until Until
	Air        Kind = "air"         // PPM that a CO2 monitor showed
)

// Event is something the household did or said.
type Event struct {
	At    time.Time
	Item  string // the cylinder; "" the household's only or first
	Kind  Kind
	Value string // as it stood in the file; Text makes it from the fields below
	By    string

	Net, Tare unit.Grams
	Gross     unit.Grams // of the cylinder on its scale
	Count     float64
	Until     time.Time
	Open      bool
	Day       time.Time // midnight UTC of the day
	Cause     string    // unknown, used, lost, repaired or moved
	About     time.Time // when what is answered was told; zero: the latest
	Paid      string    // a decimal number, in Currency of ISO 4217; "" unknown
	Currency  string
	CO2       unit.Grams
	Litres    unit.Litres
	PPM       unit.PPM
	Instead   string // a cylinder's name; "" it takes nobody's place
}

// The columns of events.csv; the first three are the fixed contract.
var eventColumns = []string{"time", "event", "value", "cylinder", "by"}

const (
	colEvent         = 1
	colValue         = 2
	colEventItem     = 3
	colEventBy       = 4
	eventContractLen = 3
)

var eventTable = kind[Event]{eventColumns, eventContractLen, (*table).event, func(e Event) time.Time { return e.At }}

// EventRows reads a whole table, sorted by time; events of the same time keep the order of the file. If there are mistakes the error is the
// first few of them as an Errors. File names the input in errors.
func EventRows(file string, r io.Reader) ([]Row[Event], error) { return eventTable.all(file, r) }

func (t *table) event() (Event, error) {
	if err := t.next(); err != nil {
		return Event{}, err
	}
	at, fault := t.timeColumn(colTime)
	if fault != nil {
		return Event{}, fault
	}
	e := Event{At: at, Kind: Kind(t.textColumn(colEvent)), Value: t.textColumn(colValue), Item: t.textColumn(colEventItem), By: t.textColumn(colEventBy)}
	parse, known := values[e.Kind]
	if !known {
		return Event{}, t.fault(colEvent, "unknown event; use filled, made, away, valve, booked or ran-dry")
	}
	if err := parse(&e, strings.TrimSpace(e.Value)); err != nil {
		return Event{}, t.fault(colValue, err.Error())
	}
	return e, nil
}
