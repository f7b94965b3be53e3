package household

import (
	"time"

	"tarebell/forecast"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// Look is what a look back over the forecasts needs to know of a cylinder at one moment.
type Look struct {
	Gas    forecast.Normal // net, g
	Seen   time.Time       // last usable weighing
	Filled time.Time       // start of the present fill
	Heel   unit.Grams
}

// Look is cheap beside Situation. ok is false for a name that is not there and before the first usable weighing. now must
// not lie before Now.
func (e *Engine) Look(cylinder string, now time.Time) (l Look, ok bool) {
	it := e.item(cylinder)
	if it == nil {
		return l, false
	}
	l.Gas, l.Seen, ok = it.fc.Level(now)
	l.Filled, l.Heel = it.filledAt, it.fc.Heel()
	return l, ok
}

// Passage is the forecast, made at now, of the time until a cylinder holds no more than level.
func (e *Engine) Passage(cylinder string, now time.Time, level unit.Grams) runout.Distribution {
	if it := e.item(cylinder); it != nil {
		return it.fc.Passage(now, level)
	}
	return runout.Distribution{}
}
