package household

import (
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

// onScale is the cylinder that stands on the scale which the config gives to a cylinder.
func (e *Engine) onScale(place string) *item {
	for _, it := range e.items {
		if it.place == place && place != "" || place == "" && !it.spare {
			return it
		}
	}
	return e.item(place)
}

// changeOver puts a cylinder into another's place.
func (e *Engine) changeOver(it *item, ev Event) {
	old := e.item(ev.Instead)
	if old == nil || old == it || old.spare || !it.spare {
		return
	}
	it.place, old.place = old.place, ""
	it.polled, it.heard, it.silent = old.polled, ev.At, false
	it.checked = old.checked
	old.polled, old.silent = false, false
	if old.loss != nil {
		old.endLoss(old.loss.finding.Mass)
	}
	it.spare, old.spare, old.full = false, true, false
	it.refill, old.refill = old.refill, errand{}
	if it.filledAt.IsZero() {
		it.filledAt = ev.At
		it.fills = append(it.fills, newFill(notice.Fill{Cylinder: it.cfg.Name, At: ev.At, First: true}))
	}
	it.changed = append(it.changed, "Cylinder "+it.cfg.Name+" is in use now; "+old.cfg.Name+" waits for its refill.")
}

// fullSpare is a full cylinder that waits, and its usable gas.
func (e *Engine) fullSpare() (name string, gas unit.Grams) {
	for _, it := range e.items {
		if it.spare && it.full {
			return it.cfg.Name, it.cfg.Forecast.NetFill - it.fc.Outlook(e.now).Heel
		}
	}
	return "", 0
}
