package live

import (
	"fmt"
	"math"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/sources"
	"tarebell/sources/recorded"
)

// FromWeighing is the ledger's entry for a weighing. text is what was typed, if it was. Masses are kept to the microgram
// and temperatures to a ten-thousandth of a degree, which is what the replay files hold, so that what is exported is what
// was judged.
func FromWeighing(w sources.Weighing, byName, text string) store.Entry {
	e := store.Entry{Key: w.Key, Kind: store.Weighing, Cylinder: w.Item, At: w.At, Received: w.Received,
		By: w.By, ByName: byName, Origin: string(w.Origin), GrossG: math.Round(float64(w.Gross)*1e6) / 1e6, Text: text}
	if w.HasTemp {
		t := math.Round(float64(w.Temp)*1e4) / 1e4
		e.TempC = &t
	}
	return e
}

// FromEvent is the ledger's entry for an event. Name and value are those of the replay files.
func FromEvent(ev household.Event, key, by string, received time.Time, text string) store.Entry {
	return store.Entry{Key: key, Kind: store.Event, Cylinder: ev.Cylinder, At: ev.At, Received: received,
		By: by, ByName: ev.By, Origin: string(sources.Manual), Name: string(ev.Kind), Value: toRecorded(ev).Text(), Text: text}
}

func toRecorded(ev household.Event) recorded.Event {
	return recorded.Event{At: ev.At, Item: ev.Cylinder, Kind: recorded.Kind(ev.Kind), By: ev.By,
		Net: ev.Net, Gross: ev.Gross, Tare: ev.Tare, Count: ev.Count, Until: ev.Until, Open: ev.Open, Day: ev.Day, Cause: causes[ev.Cause], About: ev.About,
		Paid: paid(ev.Price), Currency: ev.Price.Code(), CO2: ev.CO2, Litres: ev.Litres, PPM: ev.PPM, Instead: ev.Instead}
}

func paid(m unit.Money) string {
	if m.Code() == "" {
		return ""
	}
	return m.Decimal()
}

// FromRecorded is a recorded event as the engine takes it; cylinder is meant where the event names none.
func FromRecorded(e recorded.Event, cylinder string) household.Event {
	ev := household.Event{At: e.At, Cylinder: e.Item, Kind: household.EventKind(e.Kind), By: e.By,
		Net: e.Net, Gross: e.Gross, Tare: e.Tare, Count: e.Count, Until: e.Until, Open: e.Open, About: e.About,
		CO2: e.CO2, Litres: e.Litres, PPM: e.PPM, Instead: e.Instead}
	if price, err := unit.ParseMoney(e.Paid, e.Currency); err == nil {
		ev.Price = price
	}
	if ev.Cylinder == "" {
		ev.Cylinder = cylinder
	}
	if !e.Day.IsZero() {
		ev.Day = e.Day.Add(12 * time.Hour) // noon UTC is the same day in nearly every zone
	}
	for c, word := range causes {
		if word == e.Cause {
			ev.Cause = c
		}
	}
	return ev
}

// causes are the words that stand for an answer in the ledger.
var causes = map[forecast.Cause]string{
	forecast.Unknown: "unknown", forecast.WeUsedIt: "used", forecast.GasLost: "lost", forecast.Repaired: "repaired", forecast.Moved: "moved",
}

// ToRecorded is an event of the ledger as the replay files have it.
func ToRecorded(e store.Entry) (recorded.Event, error) {
	r, err := recorded.ReadEvent(recorded.Kind(e.Name), e.Value)
	r.At, r.Item, r.By = e.At, e.Cylinder, e.ByName
	return r, err
}

// ToWeighing is a weighing of the ledger as the replay files have it.
func ToWeighing(e store.Entry) sources.Weighing {
	w := sources.Weighing{Item: e.Cylinder, Gross: unit.Grams(e.GrossG), At: e.At, Received: e.Received,
		Origin: sources.Origin(e.Origin), By: e.ByName, Key: e.Key}
	if e.TempC != nil {
		w.Temp, w.HasTemp = unit.Celsius(*e.TempC), true
	}
	return w
}

// Valid says what is wrong with an entry before anything happens.
func Valid(e store.Entry) error {
	if e.At.IsZero() {
		return fmt.Errorf("entry %q has no time", e.Key)
	}
	if e.Kind == store.Weighing {
		if math.IsNaN(e.GrossG) || math.IsInf(e.GrossG, 0) {
			return fmt.Errorf("entry %q: gross %v is not a mass", e.Key, e.GrossG)
		}
		return nil
	}
	ev, err := event(e)
	if err != nil {
		return err
	}
	return unpriced(e, ev)
}

// unpriced says when a price that was read is no money.
func unpriced(e store.Entry, ev household.Event) error {
	r, err := recorded.ReadEvent(recorded.Kind(e.Name), e.Value)
	if err != nil || r.Paid == "" || ev.Price.Code() != "" {
		return err
	}
	_, err = unit.ParseMoney(r.Paid, r.Currency)
	return fmt.Errorf("entry %q: price %q: %w", e.Key, r.Paid+" "+r.Currency, err)
}

// Reading is a weighing as the engine takes it; cylinder is meant where the weighing names none.
func Reading(w sources.Weighing, cylinder string) household.Weighing {
	if w.Item != "" {
		cylinder = w.Item
	}
	return household.Weighing{Cylinder: cylinder, Weighing: forecast.Weighing{
		At: w.At, Gross: w.Gross, Temp: w.Temp, HasTemp: w.HasTemp, Manual: w.Origin == sources.Manual}}
}

// feed gives an entry to the engine.
func feed(engine *household.Engine, e store.Entry) ([]notice.Notice, error) {
	if e.Kind == store.Weighing {
		return engine.Weigh(Reading(ToWeighing(e), e.Cylinder)), nil
	}
	ev, err := event(e)
	if err != nil {
		return nil, err
	}
	return engine.Tell(ev), nil
}

// event reads an entry back into the event it was made from.
func event(e store.Entry) (household.Event, error) {
	r, err := ToRecorded(e)
	return FromRecorded(r, e.Cylinder), err
}
