package household

import (
	"time"

	"tarebell/forecast/serving"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// event acts on a weighing, or on what somebody did or said.
func (e *Engine) event(c *cylinder, ev record.Event) {
	switch ev.Kind {
	case record.Weighed:
		e.weigh(c, ev)
	case record.Filled:
		e.toldFilled(c, ev)
	case record.Made:
		e.servings.log(c.last(), ev.By, ev.Count)
		ev.Count = e.servings.configured(ev.Count, c.cfg)
		e.judge(c, ev)
	case record.Away:
		e.nobodyDraws(ev.At, ev.Until)
	case record.Absent:
		if until, changed := e.people.absent(ev); changed {
			e.nobodyDraws(ev.At, until)
		}
	case record.Valve:
		e.judge(c, ev)
	case record.RanDry:
		e.judge(c, ev)
		c.dryAt = ev.At
	case record.Booked:
		e.judge(c, ev)
		e.people.did(ev.By, ev.At)
		c.errand.book(e.turn(c), ev)
		e.supply.acted(&c.errand, ev.At)
	case record.Unbooked:
		e.judge(c, ev)
		c.errand.cancel()
		e.review(c)
	case record.Mine:
		e.people.did(ev.By, ev.At)
		c.errand.claim(ev.By, e.now)
	case record.Later:
		c.errand.postpone(e.now)
	case record.Answer:
		e.judge(c, ev)
		c.answer(ev)
	case record.Serving:
		e.servings.adopt(serving.Serving{Litres: ev.Litres, CO2: ev.CO2})
	case record.InUse:
		if old := e.find(ev.Instead); old != nil && !old.waits && c.waits {
			c.replace(old, ev.At)
		}
	case record.Calibrated:
		c.scale.done(ev.At)
	case record.CheckLater:
		c.scale.later = ev.At.Add(checkLater)
	case record.Afresh:
		if !c.waits {
			c.afresh(ev)
		}
		e.weigh(c, record.Event{Kind: record.Weighed, At: ev.At, Gross: ev.Gross, Origin: record.Manual})
	case record.Air:
		e.air(c, ev.PPM)
	}
}

// nobodyDraws concerns every cylinder in use.
func (e *Engine) nobodyDraws(from, until time.Time) {
	for _, c := range e.cylinders {
		if !c.waits {
			e.judge(c, record.Event{Kind: record.Away, At: from, Until: until})
		}
	}
}

// air takes what the CO2 monitor shows. An alert about a loss is raised when the air has risen together with it.
func (e *Engine) air(c *cylinder, ppm unit.PPM) {
	t, m, losing := e.turn(c), &c.monitor, c.leaks.open != nil
	m.show(t, ppm, c.place.AirAlarm, losing)
	if m.rises(ppm, losing) {
		loss := c.leaks.open.loss(t, c.place, c.takeStock(e.now))
		t.say(t.voice.AirRisen(t.Place, loss, ppm, unit.PPM(m.usual)), e.now, "/air-risen", c.leaks.open.key)
	}
	m.learn(e.now, ppm)
}
