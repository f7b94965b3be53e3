package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

const (
	// rememberedFills bounds the history of a cylinder: a large one is filled once or twice a year.
	rememberedFills = 60
	// sameFill is within what time a filling told and one seen on the scale are the same.
	sameFill = 4 * 24 * time.Hour
	// latePrice is how long after a filling its price alone may be told.
	latePrice = 60 * 24 * time.Hour
	// promptly is how soon a receipt must be told to say what was in the cylinder then.
	promptly = 12 * time.Hour
	// houseSD is how well tare and fittings are known together, about; common practice, no source.
	houseSD unit.Grams = 60
)

// fill is a filling with what was in the cylinder when it began.
type fill struct {
	notice.Fill
	start  float64            // net gas, g; NaN until it was weighed
	served map[string]float64 // servings logged while it was the present one, by name
}

func newFill(f notice.Fill) fill { return fill{Fill: f, start: math.NaN()} }

// found by the scale: gas came in.
func (e *Engine) filled(it *item, f forecast.Finding) {
	if p := it.last(); p != nil && !p.First && p.Seen == 0 && e.now.Sub(p.At) < sameFill {
		p.Seen, p.SeenSD = f.Mass, f.MassSD
	} else {
		e.begin(it, notice.Fill{At: f.At, Seen: f.Mass, SeenSD: f.MassSD})
	}
	e.sayFilled(it, e.key(it, notice.FillSeen, f.At))
}

func (e *Engine) sayFilled(it *item, key string) {
	p := it.last()
	e.say(e.opt.Voice.Filled(e.place(it), p.Fill, key))
}

// fill takes down that somebody told of a filling: a new one, or the receipt of one that the scale saw.
func (e *Engine) fill(it *item, ev record.Event) {
	e.people.did(ev.By, ev.At)
	p := it.last()
	more := p != nil && Completes(p.Fill, ev)
	if !more {
		if !it.spare {
			it.lastLook(it.fc.Outlook(ev.At))
		}
		e.begin(it, notice.Fill{At: ev.At})
		p = it.last()
	}
	p.Receipt, p.Tare = max(p.Receipt, ev.Net), max(p.Tare, ev.Tare)
	if ev.Price.Code() != "" {
		p.Price = ev.Price
	}
	if p.By == "" || ev.Price.Code() != "" {
		p.By = ev.By
	}
	if ev.Tare > 0 {
		it.tare = ev.Tare
	}
	if it.spare {
		it.rest = p.Receipt
		if it.rest <= 0 {
			it.rest = it.cfg.Forecast.NetFill
		}
		return
	}
	if !more || ev.Tare > 0 || ev.Net > 0 && ev.At.Sub(p.At) < promptly {
		e.refilled(it, ev)
	}
}

// refilled tells the forecast what the present fill brought.
func (e *Engine) refilled(it *item, ev record.Event) {
	p := it.last()
	for _, found := range it.fc.Apply(forecast.Event{Kind: forecast.Filled, At: ev.At, Net: p.Receipt, Tare: ev.Tare}) {
		e.found(it, found)
	}
	if o := it.fc.Outlook(ev.At); o.Known && math.IsNaN(p.start) {
		p.start = o.Gas.Mean // what is drawn before the next weighing counts
	}
}

// Completes reports whether an event tells more of a filling that is known already, by the scale or from somebody, rather
// than of another one: it comes soon after, adds something and contradicts nothing. A price may come late.
func Completes(f notice.Fill, ev record.Event) bool {
	within := sameFill
	if ev.Net == 0 && ev.Tare == 0 {
		within = latePrice
	}
	if f.At.IsZero() || f.First || !f.Until.IsZero() || ev.At.Sub(f.At) >= within {
		return false
	}
	if f.By == "" && f.Receipt == 0 {
		return true
	}
	priced := ev.Price.Code() != ""
	more := ev.Net > 0 && f.Receipt == 0 || ev.Tare > 0 && f.Tare == 0 || priced && f.Price.Code() == ""
	differs := f.Receipt > 0 && ev.Net > 0 && ev.Net != f.Receipt || f.Tare > 0 && ev.Tare > 0 && ev.Tare != f.Tare ||
		priced && f.Price.Code() != "" && ev.Price != f.Price
	return more && !differs
}

// begin starts a new fill and forgets what belonged to the one before.
func (e *Engine) begin(it *item, f notice.Fill) {
	e.arrived(it, f.At)
	if it.loss != nil { // whatever it was, it was of the gas before
		it.endLoss(f.At, it.loss.finding.Mass)
	}
	if p := it.last(); p != nil {
		p.Until, p.Used, p.Lost = f.At, it.used(), it.lost
	}
	f.Cylinder = it.cfg.Name
	it.fills = append(it.fills, newFill(f))
	it.fills = it.fills[max(0, len(it.fills)-rememberedFills):]
	it.filledAt, it.refill, it.lost, it.gas, it.dryAt = f.At, errand{}, 0, math.NaN(), time.Time{}
	it.full = it.spare
	it.told = notice.Told{}
	it.weekGas = [3]float64{math.NaN(), math.NaN(), math.NaN()}
}

// receive looks at an ordinary reading: what a told filling brought, by the scale, and from where its use counts.
func (e *Engine) receive(it *item, w forecast.Weighing) {
	p := it.last()
	content := it.content(w)
	if content > it.cfg.Forecast.NetFill/10 {
		it.dryAt = time.Time{}
	}
	if !p.First && p.Seen == 0 && content > it.cfg.Forecast.NetFill*2/5 && !w.At.Before(p.At) {
		p.Seen, p.SeenSD = content, houseSD
		if p.Receipt > 0 {
			e.sayFilled(it, e.key(it, notice.FillSeen, p.At))
		}
	}
	if math.IsNaN(p.start) {
		it.note(it.fc.Outlook(w.At))
	}
}

// content is the net gas that a reading shows.
func (it *item) content(w forecast.Weighing) unit.Grams {
	return w.Gross - it.tare - it.cfg.Forecast.Fittings
}

// note takes down the net gas of a look.
func (it *item) note(o forecast.Outlook) {
	if !o.Known || len(it.fills) == 0 {
		return
	}
	it.gas = o.Gas.Mean
	if p := it.last(); math.IsNaN(p.start) && !o.LastSeen.Before(p.At) {
		p.start = o.Gas.Mean
	}
}

// lastLook takes down how the gas stands at the last look before other gas comes.
func (it *item) lastLook(o forecast.Outlook) {
	it.note(o)
	if it.loss != nil {
		it.loss.update(o)
	}
}

// last is the present fill; nil before the first weighing.
func (it *item) last() *fill {
	if len(it.fills) == 0 {
		return nil
	}
	return &it.fills[len(it.fills)-1]
}

// used is what was drawn of the present fill, NaN unknown.
func (it *item) used() unit.Grams {
	p := it.last()
	if p == nil || math.IsNaN(p.start) || math.IsNaN(it.gas) {
		return unit.Grams(math.NaN())
	}
	return unit.Grams(math.Max(0, p.start-it.gas-float64(it.lost)))
}

// present is the present fill as it stands.
func (it *item) present() notice.Fill {
	p := it.last()
	if p == nil {
		return notice.Fill{}
	}
	f := p.Fill
	f.Used, f.Lost = it.used(), it.lost
	return f
}
