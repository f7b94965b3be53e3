package household

import (
	"math"

	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// afresh begins the judgement of a cylinder anew from a weight that somebody trusts: what was believed of the scale, the gas and
// losses is dropped. How the household drinks stays as a guess, so that the forecast does not begin at nothing.
func (e *Engine) afresh(it *item, ev record.Event) {
	w := forecast.Weighing{At: ev.At, Gross: ev.Gross, Manual: true}
	if it.spare {
		it.weighSpare(w)
		return
	}
	o := it.cfg.Forecast
	o.Tare = it.tare
	if was := it.fc.Outlook(ev.At); was.Known && was.Learned {
		o.UsePrior = unit.GramsPerDay(max(0, was.Use.Mean))
	}
	it.fc = forecast.New(o)
	it.loss, it.asides, it.sharp, it.gas = nil, nil, 0, math.NaN()
	if p := it.last(); p != nil {
		p.start = math.NaN()
	}
	it.changed = append(it.changed, "The figures of the gas begin anew with the weight that "+ev.By+" trusted.")
	e.weigh(it, w)
}
