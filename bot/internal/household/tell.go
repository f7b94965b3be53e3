package household

import (
	"tarebell/forecast"
	"tarebell/forecast/serving"
	"tarebell/forecast/unit/record"
)

// tell acts on an event.
func (e *Engine) tell(it *item, ev record.Event) {
	if ev.Kind == record.Filled {
		e.fill(it, ev)
		return
	}
	e.apply(it, ev)
	switch ev.Kind {
	case record.Made:
		e.log(it, ev.By, ev.Count)
	case record.Booked:
		e.people.did(ev.By, ev.At)
		e.book(it, ev)
	case record.RanDry:
		it.dryAt = ev.At
	case record.Unbooked:
		e.cancel(it)
	case record.Mine:
		e.people.did(ev.By, ev.At)
		it.refill.carrier = ev.By
		it.refill.next = e.now.Add(repeatAfter)
	case record.Later:
		it.refill.next = e.now.AddDate(0, 0, 2)
	case record.Answer:
		e.answered(it, ev)
	case record.Serving:
		e.adopt(serving.Serving{Litres: ev.Litres, CO2: ev.CO2})
	case record.InUse:
		e.changeOver(it, ev)
	case record.Calibrated:
		it.checked.done(ev.At)
	case record.CheckLater:
		it.checked.later = ev.At.Add(checkLater)
	case record.Absent:
		e.absent(ev)
	case record.Afresh:
		e.afresh(it, ev)
	case record.Air:
		e.air(it, ev.PPM)
	}
}

// apply gives the forecasts what concerns the gas. Nobody being there concerns every cylinder in use.
func (e *Engine) apply(it *item, ev record.Event) {
	f, ok := concerning(ev)
	if !ok {
		return
	}
	if ev.Kind == record.Made {
		f.Count *= e.perServing(it)
	}
	for _, other := range e.items {
		if other != it && (ev.Kind != record.Away || other.spare) {
			continue
		}
		for _, found := range other.fc.Apply(f) {
			e.found(other, found)
		}
	}
}

// causes are the household's answers as the forecast takes them.
var causes = map[record.Cause]forecast.Cause{
	record.Unknown: forecast.Unknown, record.Used: forecast.WeUsedIt, record.Lost: forecast.GasLost, record.Repaired: forecast.Repaired, record.Moved: forecast.Moved,
}

// concerning is an event as the forecast takes it; ok is false when it does not concern the gas.
func concerning(ev record.Event) (f forecast.Event, ok bool) {
	f = forecast.Event{At: ev.At, Net: ev.Net, Tare: ev.Tare, Count: ev.Count, Until: ev.Until, Cause: causes[ev.Cause]}
	switch ev.Kind {
	case record.Filled:
		f.Kind = forecast.Filled
	case record.Made:
		f.Kind = forecast.Made
	case record.Away:
		f.Kind = forecast.Away
	case record.Valve:
		f.Kind = forecast.ValveClosed
		if ev.Open {
			f.Kind = forecast.ValveOpen
		}
	case record.RanDry:
		f.Kind = forecast.RanDry
	case record.Answer:
		f.Kind = forecast.Answer
	default:
		return f, false
	}
	return f, true
}
