package live

import (
	"fmt"
	"math"
	"strconv"
	"time"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/sources"
)

// FromWeighing is the ledger's entry for a weighing. text is what was typed, if it was.
func FromWeighing(w sources.Weighing, byName, text string) store.Entry {
	e := store.Entry{Key: w.Key, Kind: store.Weighing, Cylinder: w.Item, At: w.At, Received: w.Received,
		By: w.By, ByName: byName, Origin: string(w.Origin), GrossG: float64(w.Gross), Text: text}
	if w.HasTemp {
		t := float64(w.Temp)
		e.TempC = &t
	}
	return e
}

// FromEvent is the ledger's entry for an event. Name and value are those of the replay files, with an extra
// "tare" after a swap, so that the ledger can be written out as one.
func FromEvent(ev household.Event, key, by string, received time.Time, text string) store.Entry {
	return store.Entry{Key: key, Kind: store.Event, Cylinder: ev.Cylinder, At: ev.At, Received: received,
		By: by, ByName: ev.By, Origin: string(sources.Manual), Name: string(ev.Kind), Value: value(ev), Text: text}
}

func value(ev household.Event) string {
	switch ev.Kind {
	case household.Filled:
		v := grams(ev.Net)
		if ev.Tare > 0 {
			v += " tare " + grams(ev.Tare)
		}
		return v
	case household.Made:
		return strconv.FormatFloat(ev.Count, 'g', -1, 64)
	case household.Away:
		return ev.Until.Format(time.RFC3339)
	case household.Valve:
		if ev.Open {
			return "open"
		}
		return "closed"
	case household.Booked:
		return ev.Day.Format(time.DateOnly)
	case household.Answer:
		return causes[ev.Cause]
	}
	return ""
}

func grams(m unit.Grams) string { return strconv.FormatFloat(float64(m), 'f', -1, 64) + " g" }

// causes are the words that stand for an answer in the ledger.
var causes = map[forecast.Cause]string{
	forecast.WeUsedIt: "used", forecast.GasLost: "lost", forecast.Repaired: "stopped", forecast.Moved: "moved",
}

// valid says what is wrong with an entry before anything happens.
func valid(e store.Entry) error {
	if e.At.IsZero() {
		return fmt.Errorf("entry %q has no time", e.Key)
	}
	if e.Kind == store.Weighing {
		if math.IsNaN(e.GrossG) || math.IsInf(e.GrossG, 0) {
			return fmt.Errorf("entry %q: gross %v is not a mass", e.Key, e.GrossG)
		}
		return nil
	}
	_, err := event(e)
	return err
}

// feed gives an entry to the engine.
func feed(engine *household.Engine, e store.Entry) ([]notice.Notice, error) {
	if e.Kind == store.Weighing {
		w := forecast.Weighing{At: e.At, Gross: unit.Grams(e.GrossG), Manual: e.Origin == string(sources.Manual)}
		if e.TempC != nil {
			w.Temp, w.HasTemp = unit.Celsius(*e.TempC), true
		}
		return engine.Weigh(household.Weighing{Cylinder: e.Cylinder, Weighing: w}), nil
	}
	ev, err := event(e)
	if err != nil {
		return nil, err
	}
	return engine.Tell(ev), nil
}

// event reads an entry back into the event it was made from.
func event(e store.Entry) (ev household.Event, err error) {
	ev = household.Event{Cylinder: e.Cylinder, At: e.At, Kind: household.EventKind(e.Name), By: e.ByName}
	switch ev.Kind {
	case household.Filled:
		ev.Net, ev.Tare, err = filled(e.Value)
	case household.Made:
		ev.Count, err = strconv.ParseFloat(e.Value, 64)
	case household.Away:
		ev.Until, err = time.Parse(time.RFC3339, e.Value)
	case household.Valve:
		ev.Open = e.Value == "open"
		if !ev.Open && e.Value != "closed" {
			err = fmt.Errorf("want open or closed")
		}
	case household.Booked:
		ev.Day, err = noon(e.Value)
	case household.Answer:
		ev.Cause, err = cause(e.Value)
	case household.RanDry, household.Unbooked, household.Mine, household.Later:
	default:
		err = fmt.Errorf("unknown event")
	}
	if err != nil {
		return ev, fmt.Errorf("event %q, value %q: %w", e.Name, e.Value, err)
	}
	return ev, nil
}

func filled(s string) (net, tare unit.Grams, err error) {
	if _, err = fmt.Sscanf(s, "%f g tare %f g", &net, &tare); err == nil {
		return net, tare, nil
	}
	if s == "" {
		return 0, 0, nil
	}
	_, err = fmt.Sscanf(s, "%f g", &net)
	return net, 0, err
}

func cause(s string) (forecast.Cause, error) {
	for c, word := range causes {
		if word == s {
			return c, nil
		}
	}
	return forecast.Unknown, fmt.Errorf("want used, lost, stopped or moved")
}

// noon is a calendar day at noon UTC, which is the same day in nearly every zone.
func noon(date string) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, date)
	return t.Add(12 * time.Hour), err
}
