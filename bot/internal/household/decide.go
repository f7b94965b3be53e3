package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// Facts are what the day's decision about a cylinder rests on.
type Facts struct {
	Now       time.Time
	Spare     bool // it waits its turn
	Known     bool // there is a forecast of the run-out
	Plan      refill.Plan
	Full      bool      // by typed weights most of the fill is there still, and fewer than two requests were in vain: only another weight can show that it goes so fast
	Early     bool      // by a scale that answers most of the fill is there still, and the use is not learned yet: the next days show it
	Booked    time.Time // the refill is booked for that day, and the day is not long past; zero: it is not
	Escaping  time.Time // gas escapes fast, which comes first until then; zero: none does
	Reminded  bool      // to book the refill of this fill
	NotBefore time.Time // no reminder before
	Weight    Weight
}

// Weight is what there is to say of a weight that somebody could bring.
type Weight struct {
	Gain  unit.Days // by how much later it would let people be reminded, on average
	Wait  int       // days within which one that is asked for is brought
	Ahead int       // days after which is asked again
	Fresh bool      // there is one of today: another says more tomorrow
	Asked time.Time // for one that did not come yet; zero: for none
}

// worthWeighing is by how many days a reminder must be put off, on average, for a weight to be worth its bother: a day's gas
// is given back unused otherwise, as often as people are asked. Ours.
const worthWeighing unit.Days = 1

// askAgain is how long an unanswered request for a weight rests.
const askAgain = 7 * 24 * time.Hour

// Decide is what to say of a cylinder at a review, and why, or why nothing. It is pure.
func Decide(f Facts) notice.Decision {
	say := func(k notice.Kind, why notice.Reason, until time.Time) notice.Decision {
		return notice.Decision{At: f.Now, Say: k, Why: why, Until: until}
	}
	brought := f.Weight.Asked.AddDate(0, 0, f.Weight.Wait)
	switch {
	case f.Spare:
		return say("", notice.WaitsItsTurn, time.Time{})
	case !f.Known:
		return say("", notice.NothingKnown, time.Time{})
	case f.Now.Before(f.Escaping):
		return say("", notice.LossFirst, f.Escaping)
	case !f.Booked.IsZero():
		return say("", notice.AlreadyBooked, f.Booked)
	case f.Plan.RemindBy.IsZero():
		return say("", notice.Plenty, time.Time{})
	case f.Full && f.Plan.Due && !f.Weight.Fresh && !f.Now.Before(f.Weight.Asked.Add(askAgain)):
		return say(notice.WeighDue, notice.WeightDecides, f.Plan.RemindBy)
	case f.Full && f.Plan.Due:
		return say("", notice.WeightAwaited, f.Now.AddDate(0, 0, 1))
	case f.Early && f.Plan.Due && !f.Reminded:
		return say("", notice.TooSoon, f.Now.AddDate(0, 0, 1))
	case f.weighFirst() && f.Weight.Fresh && f.Plan.Due:
		return say("", notice.WeightAwaited, f.Now.AddDate(0, 0, 1))
	case f.weighFirst() && !f.Weight.Fresh:
		return say(notice.WeighDue, notice.WeightDecides, f.Plan.RemindBy)
	case !f.Plan.Due:
		return say("", notice.Plenty, f.Plan.RemindBy)
	case f.Now.Before(f.NotBefore):
		return say("", notice.Reminded, f.NotBefore)
	case !f.Weight.Asked.IsZero() && f.Now.Before(brought) && !f.Plan.Overdue && !f.Reminded:
		return say("", notice.WeightAwaited, brought)
	}
	return say(notice.RefillDue, notice.TimeToBook, f.Plan.BookBy)
}

// weighFirst reports that a weight is to be asked for: it would most likely put the reminder off by more than it bothers,
// and only just comes in time. Where it cannot come in time any more the booking is asked for.
func (f Facts) weighFirst() bool {
	w := f.Weight
	switch {
	case w.Gain < worthWeighing, f.Reminded, f.Plan.Overdue:
		return false
	case !w.Asked.IsZero() && f.Now.Before(w.Asked.Add(askAgain)):
		return false
	}
	return !f.Plan.RemindBy.After(f.Now.AddDate(0, 0, w.Wait+w.Ahead))
}
