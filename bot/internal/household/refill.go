package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/refill"
)

// repeatAfter is how long an unanswered reminder to book rests.
const repeatAfter = 3 * 24 * time.Hour

// daily takes the day's look at a cylinder: is it time to book, did the booked day pass, is the retest near?
func (e *Engine) daily(it *item) {
	if it.filledAt.IsZero() {
		return
	}
	e.remind(it)
	e.retest(it)
}

// remind says that it is time to book, and says it again while nobody has booked.
func (e *Engine) remind(it *item) {
	r := &it.refill
	if e.now.Before(r.next) || !r.booked.IsZero() && e.now.Before(r.booked.AddDate(0, 0, 2)) {
		return
	}
	s := e.situation(it)
	if !s.Outlook.Known || !s.Due {
		return
	}
	r.booked = time.Time{}
	r.next = e.now.Add(repeatAfter)
	key := e.key(it, notice.RefillDue, e.now)
	e.say(e.opt.Voice.Refill(s, key, r.first, r.again))
	if r.first == "" {
		r.first = key
	}
	r.again++
}

// plan is when to book. The zero Plan says that nothing is known.
func (e *Engine) plan(o forecast.Outlook) refill.Plan {
	if !o.Known {
		return refill.Plan{}
	}
	p := refill.Policy{Risk: e.opt.Refill.Risk, Lead: refill.Fixed(e.opt.Refill.LeadDays), Open: e.opt.Refill.Open, Location: e.opt.Zone}
	plan, err := p.Plan(o.At, o.RunOut)
	if err != nil { // a supplier that never opens: the config refuses it
		return refill.Plan{}
	}
	return plan
}

// retest reminds once of the periodic inspection, two months ahead, and once when it is overdue.
func (e *Engine) retest(it *item) {
	due := it.cfg.Retest
	if due.IsZero() {
		return
	}
	for _, at := range []time.Time{due.AddDate(0, -2, 0), due} {
		if !e.now.Before(at) && it.retest.Before(at) {
			it.retest = e.now
			if e.now.Sub(at) < 30*24*time.Hour || at.Equal(due) {
				e.say(e.opt.Voice.Retest(e.situation(it), due, e.key(it, notice.RetestDue, at)))
			}
			return
		}
	}
}

// tell acts on an event.
func (e *Engine) tell(it *item, ev Event) {
	if f, ok := ev.forecast(); ok {
		for _, found := range it.fc.Apply(f) {
			e.found(it, found)
		}
	}
	switch ev.Kind {
	case Filled:
		e.restart(it, ev.At)
		it.printed = ev.Net
	case Booked:
		it.refill.booked = ev.Day
		if ev.By != "" && it.refill.carrier == "" {
			it.refill.carrier = ev.By
		}
	case Unbooked:
		it.refill.booked, it.refill.next = time.Time{}, time.Time{}
		e.daily(it)
	case Mine:
		it.refill.carrier = ev.By
		it.refill.next = e.now.Add(repeatAfter)
	case Later:
		it.refill.next = e.now.AddDate(0, 0, 2)
	case Answer:
		e.answered(it, ev.Cause)
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
