package household

import (
	"math"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// onScale is the cylinder that has the place which the config gives to a cylinder: it stands on that scale, beside that
// monitor. An empty name is the first in use.
func (e *Engine) onScale(name string) *item {
	for _, it := range e.items {
		if it.site != nil && (name == "" || it.site.Name == name) {
			return it
		}
	}
	return e.item(name)
}

// changeOver puts a cylinder into another's place. The judgement of the place goes on with it: the household drinks as
// before, the scale is as good as before; only the cylinder is another one, as in a swap.
func (e *Engine) changeOver(it *item, ev record.Event) {
	old := e.item(ev.Instead)
	if old == nil || old == it || old.spare || !it.spare {
		return
	}
	old.lastLook(old.fc.Outlook(ev.At))
	old.rest = unit.Grams(old.gas)
	if old.loss != nil {
		old.endLoss(ev.At, old.loss.finding.Mass)
	}
	it.fc, old.fc = old.fc, forecast.New(old.cfg.Forecast)
	it.losses, old.losses = old.losses, nil // they are of the days that go along
	it.site, it.polled, it.heard, it.silent, it.checked = old.site, old.polled, ev.At, false, old.checked
	it.monitor, old.monitor = old.monitor, monitor{}
	old.site, old.polled, old.silent, old.asides = nil, false, false, nil
	it.refill, old.refill = old.refill, errand{}
	if len(it.fills) == 0 {
		it.fills = append(it.fills, newFill(notice.Fill{Cylinder: it.cfg.Name, At: ev.At, First: true}))
	}
	it.filledAt, it.gas = ev.At, math.NaN()
	net := it.rest
	it.spare, it.full, it.rest, old.spare = false, false, 0, true
	it.fc.Apply(forecast.Event{Kind: forecast.Filled, At: ev.At, Net: max(0, net), Tare: it.tare})
	it.last().start = it.fc.Outlook(ev.At).Gas.Mean
	it.changed = append(it.changed, "Cylinder "+it.cfg.Name+" is in use now; "+old.cfg.Name+" waits for its refill.")
}

// fullSpare is a full cylinder that waits, and its usable gas.
func (e *Engine) fullSpare() (name string, gas unit.Grams) {
	for _, it := range e.items {
		if it.spare && it.full {
			return it.cfg.Name, max(0, it.rest-it.heel)
		}
	}
	return "", 0
}

// mostlyFull is from what share of a nominal fill on a cylinder that waits counts as full; suppliers fill less in the heat (common
// practice, no source).
const mostlyFull = 0.8

// weighSpare takes down what a cylinder holds that waits.
func (it *item) weighSpare(w forecast.Weighing) {
	if net := it.content(w); net > 0 && net < it.cfg.Forecast.NetFill*5/4 {
		it.rest, it.full = net, net > mostlyFull*it.cfg.Forecast.NetFill
	}
}
