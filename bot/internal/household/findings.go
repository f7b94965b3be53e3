package household

import (
	"fmt"
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// promptly is how soon a receipt must be told to say what was in the cylinder then.
const promptly = 12 * time.Hour

// weigh feeds a reading to a cylinder and acts on what it revealed.
func (e *Engine) weigh(c *cylinder, w record.Event) {
	if c.waits {
		c.weighWaiting(w)
		return
	}
	if c.began.IsZero() {
		c.began = w.At
		c.fills = append(c.fills, newFill(notice.Fill{Cylinder: c.cfg.Name, At: w.At, First: true}))
	}
	typed := w.Origin == record.Manual
	if !typed || !c.scale.polled && !c.place.Scale {
		c.scale.hear(e.turn(c), w)
	}
	if typed && (c.errand.awaits() || !c.dryAt.IsZero()) {
		if gas, _, known := c.fc.Level(w.At); c.refilledBy(c.net(w), gas, known) {
			e.judge(c, record.Event{Kind: record.Filled, At: w.At})
			e.filled(c, w.At, c.net(w), c.netSD(w))
		}
	}
	findings := c.fc.Apply(w)
	doubted := c.fc.Doubtful()
	for _, f := range findings {
		doubted = doubted || f.Kind == forecast.WrongUnit || f.Kind == forecast.Implausible
	}
	fresh := len(findings) > 0
	e.found(c, findings)
	if !doubted {
		e.received(c, w)
	}
	if !c.fc.Doubtful() {
		e.supply.brought(&c.errand, w.At)
	}
	c.scale.weighed(w, c.fc.Doubtful() || !c.fc.Known()) // an empty platform is no doubt, and no weight of the cylinder either
	if fresh || typed && e.now.Sub(c.reviewed) >= nextWeighing {
		e.review(c)
	}
}

// judge gives an event that concerns the gas to the forecast, and acts on what it finds.
func (e *Engine) judge(c *cylinder, ev record.Event) { e.found(c, c.fc.Apply(ev)) }

// nextWeighing is how soon after a review another typed weight is worth one: several typed in a row are one weighing.
const nextWeighing = 10 * time.Minute

// found turns findings into notices, or into nothing.
func (e *Engine) found(c *cylinder, findings []forecast.Finding) {
	t := e.turn(c)
	for _, f := range findings {
		if f.Kind == forecast.ObjectOn && e.arrived(c, f) {
			continue
		}
		if c.pending.take(f, c.errand.leaves(t, f.At)) {
			continue
		}
		switch f.Kind {
		case forecast.AbruptLoss, forecast.SlowLoss:
			c.leaks.found(t, c.place, f, c.takeStock(e.now))
		case forecast.LossStopped:
			c.lose(c.leaks.stopped(t, f, c.takeStock(e.now)))
		case forecast.FillSeen:
			e.filled(c, f.At, f.Mass, f.MassSD)
		case forecast.FillGone:
			e.noFilling(c, f)
		default:
			e.odd(c, f)
		}
	}
}

// arrived reports that what came onto the scale is the refill that was booked for these days, though the cylinder was not seen to leave.
func (e *Engine) arrived(c *cylinder, f forecast.Finding) bool {
	gas, _, known := c.fc.Level(f.At)
	if !c.errand.leaves(e.turn(c), f.At) && c.errand.moves == 0 || !c.refilledBy(f.Mass+unit.Grams(gas.Mean), gas, known) {
		return false
	}
	e.judge(c, record.Event{Kind: record.Filled, At: f.At})
	e.filled(c, f.At, f.Mass+unit.Grams(gas.Mean), f.MassSD)
	return true
}

// filled records that a weight showed a fill of so much gas.
func (e *Engine) filled(c *cylinder, at time.Time, seen, sd unit.Grams) {
	if p := c.last(); p != nil && !p.First && p.Seen == 0 && e.now.Sub(p.At) < sameFill {
		p.Seen, p.SeenSD = seen, sd
	} else {
		e.begin(c, notice.Fill{At: at, Seen: seen, SeenSD: sd})
	}
	e.sayFilled(c, at)
}

// noFilling takes a fill back that left the scale again.
func (e *Engine) noFilling(c *cylinder, f forecast.Finding) {
	at := c.last().At
	if was, ok := c.withdraw(); ok {
		c.errand = was
		e.supply.never(at)
	}
	e.odd(c, f)
}

func (e *Engine) sayFilled(c *cylinder, at time.Time) {
	t := e.turn(c)
	t.say(t.voice.Filled(t.Place, c.last().Fill), at, "", "")
}

// begin starts a new fill of a cylinder.
func (e *Engine) begin(c *cylinder, f notice.Fill) {
	was := c.errand
	e.supply.arrived(&c.errand, f.At)
	c.errand = errand{}
	c.lose(c.leaks.end(f.At)) // whatever it was, it was of the gas before
	f.Cylinder = c.cfg.Name
	c.contents.begin(f, c.waits)
	c.last().before = was
	c.weekly.restart()
}

// toldFilled takes what somebody told of a filling: a new one, or the receipt of one that the scale saw.
func (e *Engine) toldFilled(c *cylinder, ev record.Event) {
	e.people.did(ev.By, ev.At)
	p := c.last()
	more := p != nil && Completes(p.Fill, ev)
	if !more {
		if !c.waits {
			c.closeStock(ev.At)
		}
		e.begin(c, notice.Fill{At: ev.At})
	}
	c.complete(ev)
	switch p = c.last(); {
	case c.waits:
		c.fillWaiting()
	case !more || ev.Tare > 0 || ev.Net > 0 && ev.At.Sub(p.At) < promptly:
		ev.Net = p.Receipt
		e.judge(c, ev)
		if o := c.fc.Outlook(ev.At); o.Known && math.IsNaN(p.start) {
			p.start = o.Gas.Mean // what is drawn before the next weighing counts
		}
	}
}

// received looks at an ordinary reading: what a told filling brought, by the scale, and from where its use counts.
func (e *Engine) received(c *cylinder, w record.Event) {
	p, net := c.last(), c.net(w)
	if net > c.nominal/10 {
		c.dryAt = time.Time{}
	}
	if !p.First && p.Seen == 0 && net > c.nominal*2/5 && !w.At.Before(p.At) {
		p.Seen, p.SeenSD = net, c.netSD(w)
		if p.Receipt > 0 {
			e.sayFilled(c, p.At)
		}
	}
	if math.IsNaN(p.start) {
		c.takeStock(w.At)
	}
}

// odd tells of something that is not about gas, if anybody needs to hear of it.
func (e *Engine) odd(c *cylinder, f forecast.Finding) {
	t := e.turn(c)
	if f.Kind == forecast.TemperatureDrift { // it is taken out, so that the weekly status will do
		c.weekly.changed = append(c.weekly.changed, t.voice.Drift(t.Place, f))
		return
	}
	if n, ok := t.voice.Odd(t.Place, f); ok {
		t.say(n, f.At, fmt.Sprintf("/%d", f.Kind), "")
	}
}
