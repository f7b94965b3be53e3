package household

import (
	"tarebell/forecast"
	"tarebell/forecast/serving"
)

// tell acts on an event.
func (e *Engine) tell(it *item, ev Event) {
	if ev.Kind == Filled {
		e.fill(it, ev)
		return
	}
	e.apply(it, ev)
	switch ev.Kind {
	case Made:
		e.log(it, ev.By, ev.Count)
	case Booked:
		e.people.did(ev.By, ev.At)
		e.book(it, ev)
	case RanDry:
		it.dryAt = ev.At
	case Unbooked:
		e.cancel(it)
	case Mine:
		e.people.did(ev.By, ev.At)
		it.refill.carrier = ev.By
		it.refill.next = e.now.Add(repeatAfter)
	case Later:
		it.refill.next = e.now.AddDate(0, 0, 2)
	case Answer:
		e.answered(it, ev)
	case Serving:
		e.adopt(serving.Serving{Litres: ev.Litres, CO2: ev.CO2})
	case InUse:
		e.changeOver(it, ev)
	case Calibrated:
		it.checked.done(ev.At)
	case CheckLater:
		it.checked.later = ev.At.Add(checkLater)
	case Absent:
		e.absent(ev)
	case Afresh:
		e.afresh(it, ev)
	case Air:
		e.air(it, ev.PPM)
	}
}

// apply gives the forecasts what concerns the gas. Nobody being there concerns every cylinder in use.
func (e *Engine) apply(it *item, ev Event) {
	f, ok := ev.forecast()
	if !ok {
		return
	}
	if ev.Kind == Made {
		f.Count *= e.perServing(it)
	}
	for _, other := range e.items {
		if other != it && (ev.Kind != Away || other.spare) {
			continue
		}
		for _, found := range other.fc.Apply(f) {
			e.found(other, found)
		}
	}
}

// forecast is the event as the forecast takes it; ok is false when it does not concern the gas.
func (ev Event) forecast() (forecast.Event, bool) {
	f := forecast.Event{At: ev.At, Net: ev.Net, Tare: ev.Tare, Count: ev.Count, Until: ev.Until, Cause: ev.Cause}
	switch ev.Kind {
	case Filled:
		f.Kind = forecast.Filled
	case Made:
		f.Kind = forecast.Made
	case Away:
		f.Kind = forecast.Away
	case Valve:
		f.Kind = forecast.ValveClosed
		if ev.Open {
			f.Kind = forecast.ValveOpen
		}
	case RanDry:
		f.Kind = forecast.RanDry
	case Answer:
		f.Kind = forecast.Answer
	default:
		return f, false
	}
	return f, true
}
