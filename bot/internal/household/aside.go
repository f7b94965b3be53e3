package household

import (
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
)

// What is put on or taken off the platform for a while is nobody's business; what stays so is told once.
var patience = map[forecast.FindingKind]time.Duration{
	forecast.Lifted:   6 * time.Hour,  // it is away to be filled, or put back after cleaning
	forecast.ObjectOn: 48 * time.Hour, // nobody has to do anything about it
}

// awayForRefill is how long a cylinder may be off its scale from the eve of the booked day on.
const awayForRefill = 3 * 24 * time.Hour

// ends names the finding that makes another one moot.
var ends = map[forecast.FindingKind]forecast.FindingKind{
	forecast.Returned:  forecast.Lifted,
	forecast.ObjectOff: forecast.ObjectOn,
	forecast.FillSeen:  forecast.Lifted,
}

// aside is something odd that is told only if it lasts.
type aside struct {
	finding forecast.Finding
	at      time.Time // when it is told
}

// setAside keeps a finding for later, and lets go of those that it ends. It reports whether there is nothing to tell
// now.
func (e *Engine) setAside(it *item, f forecast.Finding) bool {
	if over, ok := ends[f.Kind]; ok {
		it.asides = slices.DeleteFunc(it.asides, func(a aside) bool { return a.finding.Kind == over })
	}
	wait, ok := patience[f.Kind]
	if !ok {
		return false
	}
	if b := it.refill.booked; f.Kind == forecast.Lifted && !b.IsZero() && e.calendarDays(f.At, b) <= 1 {
		wait = awayForRefill // that it is away is expected; whether the refill came is asked anyway
	}
	it.asides = slices.DeleteFunc(it.asides, func(a aside) bool { return a.finding.Kind == f.Kind })
	it.asides = append(it.asides, aside{f, f.At.Add(wait)})
	return true
}

// nextAside is when something set aside is to be told; zero: nothing.
func (it *item) nextAside() time.Time {
	var next time.Time
	for _, a := range it.asides {
		next = earlier(next, a.at)
	}
	return next
}

// tellAsides tells what has lasted.
func (e *Engine) tellAsides(it *item) {
	it.asides = slices.DeleteFunc(it.asides, func(a aside) bool {
		if a.at.After(e.now) {
			return false
		}
		e.odd(it, a.finding)
		return true
	})
}

// odd tells of something that is not about gas, if anybody needs to hear of it.
func (e *Engine) odd(it *item, f forecast.Finding) {
	if f.Kind == forecast.TemperatureDrift { // it is taken out, so that the weekly status will do
		it.changed = append(it.changed, e.opt.Voice.Drift(e.place(it), f))
		return
	}
	key := e.key(it, notice.OddReading, f.At) + "/" + oddName(f.Kind)
	if n, ok := e.opt.Voice.Odd(e.place(it), f, key); ok {
		e.say(n)
	}
}
