package notice

import (
	"fmt"
	"time"

	"tarebell/forecast/unit"
)

// Decision is what was decided about a cylinder at a review: which notice, if any, and why.
type Decision struct {
	At    time.Time
	Say   Kind // empty: nothing
	Why   Reason
	Until time.Time // the date that belongs to the reason; zero: none does
}

// Reason is why something is said, or nothing.
type Reason int

// The reasons, with what Decision.Until is.
const (
	NotReviewed   Reason = iota
	WaitsItsTurn         // the cylinder is not in use
	NothingKnown         // no forecast yet
	LossFirst            // gas escapes: that is to be stopped, until then
	AlreadyBooked        // for that day
	Plenty               // a reminder is not due before then; zero: for years
	WeightDecides        // a weight is asked for: it may show that there is time; the reminder is due then
	WeightAwaited        // one decides that was asked for or will be; it may come until then
	TooSoon              // most of the fill is there, and the use is still being learned: a scale tells more by then
	Reminded             // people were told, and are again then
	TimeToBook           // the last good day to book
)

// String is the reason's name in records and logs.
func (r Reason) String() string {
	return [...]string{"not looked yet", "waits its turn", "nothing known", "loss first", "booked", "enough", "a weight decides", "a weight is awaited",
		"too soon", "reminded", "time to book"}[r]
}

// Why says why nothing more is said about the refill, or what was; "" where the plan says it already.
func (v Voice) Why(s Situation) string {
	d := s.Decision
	day := v.Day(d.Until, s.Now)
	switch d.Why {
	case LossFirst:
		return "No reminder to book while gas escapes: that is to be stopped first."
	case Plenty:
		if d.Until.IsZero() || !s.Datable() { // a date would say more than is known
			return ""
		}
		days, on := unit.Between(s.Now, d.Until), "on"
		if grainOf(days) != byDay {
			on = "in"
		}
		return fmt.Sprintf("No reminder yet: one %s %s still leaves time%s.", on, v.around(s.Now, days),
			when(s.ActsIn > 0, ", with about %s until somebody books", plural(float64(s.ActsIn), "day")))
	case WeightDecides:
		return "A weight was asked for: it decides when to book the refill."
	case WeightAwaited:
		return fmt.Sprintf("Another weight decides; without one the reminder comes after %s.", day)
	case TooSoon:
		return "No reminder yet: most of the fill is there, and how fast it goes is still being learned."
	case Reminded:
		return fmt.Sprintf("The last reminder still stands; the next one comes on %s.", day)
	}
	return ""
}
