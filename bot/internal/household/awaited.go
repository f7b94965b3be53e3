package household

import (
	"tarebell/forecast"
)

// A refill that is awaited is believed at the first typed weight that shows most of a fill where little gas was left: shares of a
// nominal fill. Ours; nobody weighs anything else as heavy at that time.
const (
	mostOfFill = 0.8
	littleLeft = 0.6
	overfull   = 1.15
)

// awaited reports that a typed weight is that of the refill which is awaited: it was booked, people were told to book it, or the
// cylinder was said to have run dry.
func (it *item) awaited(w forecast.Weighing) bool {
	if it.refill.first == "" && it.refill.bookedAt.IsZero() && it.dryAt.IsZero() {
		return false
	}
	full := it.cfg.Forecast.NetFill
	net := w.Gross - it.tare - it.cfg.Forecast.Fittings
	gas, _, known := it.fc.Level(w.At)
	empty := !it.dryAt.IsZero() || known && gas.Mean < littleLeft*float64(full)
	return empty && net >= mostOfFill*full && net <= overfull*full
}

// cameByWeight begins the fill that a typed weight shows.
func (e *Engine) cameByWeight(it *item, w forecast.Weighing) {
	for _, f := range it.fc.Apply(forecast.Event{Kind: forecast.Filled, At: w.At}) {
		e.found(it, f)
	}
	e.filled(it, forecast.Finding{Kind: forecast.FillSeen, At: w.At, Mass: w.Gross - it.tare - it.cfg.Forecast.Fittings, MassSD: houseSD})
}
