package notice

import (
	"fmt"
	"math"
	"time"

	"tarebell/bot/internal/schedule"
	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// daysTo counts the calendar days from now to a day.
func (v Voice) daysTo(day, now time.Time) int { return schedule.DaysBetween(now, day, v.Zone) }

func (v Voice) toBook(s Situation) string {
	if !s.Booked.IsZero() && v.daysTo(s.Booked, s.Now) < 0 {
		return fmt.Sprintf("The refill was booked for %s; no filling was told or seen since.", v.Day(s.Booked, s.Now))
	}
	if !s.Booked.IsZero() {
		return fmt.Sprintf("The refill is booked for %s%s.", v.Day(s.Booked, s.Now), when(s.Carrier != "", "; %s", seesTo(s.Carrier)))
	}
	if day, ok := v.nothingToBook(s); ok {
		return fmt.Sprintf("Nothing to book before %s.", v.read(day, s.Now))
	}
	switch days := v.daysTo(s.BookBy, s.Now); {
	case s.BookBy.IsZero() || !s.Datable() && s.BookBy.After(s.Now):
		return ""
	case s.Decision.Why == WeightAwaited && days <= bookSoon:
		return "A weight decides when to book."
	case s.Decision.Why == TooSoon:
		return "It is too soon to say when to book."
	case s.endsFirst() && (s.ended() || s.usable() <= 0):
		return fmt.Sprintf("A refill booked now would come about %s.", v.Day(s.Earliest, s.Now))
	case s.endsFirst():
		return v.gasEndsFirst(s)
	case days <= 0:
		return "The refill should be booked now."
	case days <= bookSoon:
		return fmt.Sprintf("Book the refill by %s.", v.Day(s.BookBy, s.Now))
	}
	return ""
}

// bookSoon is how many days ahead it is told by when to book, bookLater from when.
const (
	bookSoon  = 21
	bookLater = 120
)

// nothingToBook is the day before which there is nothing to book, if that is the thing to say.
func (v Voice) nothingToBook(s Situation) (date, bool) {
	days := v.daysTo(s.BookBy, s.Now)
	if !s.Booked.IsZero() || s.BookBy.IsZero() || !s.Datable() || s.endsFirst() || days <= bookSoon || days > bookLater {
		return date{}, false
	}
	d := unit.Days(days)
	return v.date(s.Now, d, grainOf(d)), true
}

// endsFirst reports that the gas will more likely than not be gone before a refill booked at the first chance comes.
func (r Refill) endsFirst() bool { return r.Booked.IsZero() && r.Overdue && r.RiskNow > 0.5 }

func (v Voice) gasEndsFirst(s Situation) string {
	return fmt.Sprintf("The gas most likely ends before a refill comes: booked now, that is about %s.", v.Day(s.Earliest, s.Now))
}

// spareGas is what to do when the gas ends before the refill comes.
func (s Situation) spareGas() string {
	switch {
	case !s.endsFirst() || s.ended():
		return ""
	case s.usable() <= 0:
		return "Ask the supplier for an earlier day or a cylinder on loan."
	}
	return "Drawing less makes it last longer; ask the supplier for an earlier day or a cylinder on loan."
}

// outlasted reports that a refill is due while most of the last is still there: a fill lasts no longer than people and supplier take.
func (s Situation) outlasted() bool {
	return s.Overdue && s.Datable() && s.usable() > stillThere*(s.GrossFull-s.GrossEmpty)
}

// stillThere is the share of a fill that counts as most of it; ours.
const stillThere = 0.75

// second is what helps where a fill does not outlast the wait for the next.
func (s Situation) second() string {
	return when(s.outlasted(), "A second cylinder, kept full beside it, would take the hurry out.")
}

// Refill says that it is time to book. again counts the reminders already given for this fill.
func (v Voice) Refill(s Situation, again int) Notice {
	n := s.notice(RefillDue, v.dueHeadline(s, again),
		v.leftUntil(s), s.spareGas(), s.second(), v.stale(s), when(s.Carrier != "", "%s said they would see to it.", s.Carrier), v.turn(s), v.closures(s),
		s.supplier(), s.bring(), s.retestDuty(s.Now))
	n.Severity, n.Picture = Warning, &s
	n.Actions = []Action{
		{"mine:" + s.Cylinder, "I'll see to it"},
		{"booked:" + s.Cylinder, "It's booked…"},
		{"later:" + s.Cylinder, "Remind us in 2 days"},
	}
	return n
}

// leftUntil is what is left until when, as far as that is known, beside how long a refill takes.
func (v Voice) leftUntil(s Situation) string {
	o := s.Outlook
	if !o.RunOut.Known() || s.usable() <= 0 || s.ended() {
		return ""
	}
	early, takes := v.around(s.Now, o.RunOut.Quantile(0.05)), plural(float64(s.LeadDays), "day")
	switch {
	case s.adrift():
		return fmt.Sprintf("What is left cannot be told before it is weighed again; it may last only until %s, and a refill takes %s.", early, takes)
	case !s.Datable():
		return fmt.Sprintf("%s of gas is left; too early to say how long it lasts, perhaps only until %s; a refill takes %s.", v.Mass(s.usable()), early, takes)
	}
	return fmt.Sprintf("%s of gas is left, until about %s, perhaps only until %s; a refill takes %s.",
		v.Mass(s.usable()), v.around(s.Now, o.RunOut.Quantile(0.5)), early, takes)
}

// halfDay is how old the last weight may be to show that a cylinder is not there; ours.
const halfDay = 12 * time.Hour

// dueHeadline says that the refill is to be booked, and until when that is in time.
func (v Voice) dueHeadline(s Situation, again int) string {
	left := v.daysTo(s.BookBy, s.Now)
	day := v.Day(s.BookBy, s.Now)
	switch {
	case !s.Missed.IsZero() && s.Now.Sub(s.Outlook.LastSeen) > halfDay:
		return fmt.Sprintf("The refill%s that was booked for %s has not been seen: the last weight is from %s. Say /filled if it came; else please ask the supplier, or book another.",
			s.of(), v.Day(s.Missed, s.Now), v.Moment(s.Outlook.LastSeen, s.Now))
	case !s.Missed.IsZero():
		return fmt.Sprintf("The refill%s that was booked for %s is not here; please ask the supplier, or book another.", s.of(), v.Day(s.Missed, s.Now))
	case s.ended():
		return fmt.Sprintf("%s is probably empty by now, and no refill is booked.", s.the())
	case s.usable() <= 0 && (s.adrift() || s.old()):
		return fmt.Sprintf("%s may be about empty, and no refill is booked.", s.the())
	case s.usable() <= 0:
		return fmt.Sprintf("%s is about empty, and no refill is booked.", s.the())
	case s.endsFirst():
		return v.gasEndsFirst(s)
	case again > 0 && left > 0 && !s.Overdue:
		return fmt.Sprintf("The refill%s is still not booked; %s is the last good day.", s.of(), day)
	case again > 0:
		return fmt.Sprintf("The refill%s is still not booked, and each day makes it likelier that the gas ends first.", s.of())
	case s.Overdue && left > 0:
		return fmt.Sprintf("Time to book the refill%s: %s is the first day the supplier is open.", s.of(), day)
	case s.outlasted():
		return fmt.Sprintf("Time to book the next refill%s already: a full cylinder lasts about as long as a refill takes.", s.of())
	case s.Overdue:
		return fmt.Sprintf("Time to book the refill%s: every day counts now.", s.of())
	case left > 0:
		return fmt.Sprintf("Time to book the refill%s: %s is the last good day.", s.of(), day)
	}
	return fmt.Sprintf("Time to book the refill%s: today, %s, is the last good day.", s.of(), day)
}

// weighRequest asks for a weight in one sentence.
func (v Voice) weighRequest(s Situation) string {
	example := s.House + unit.Grams(math.Max(0, s.Outlook.Gas.Mean))
	return fmt.Sprintf("Please weigh the cylinder%s today or tomorrow and type what the scale says, such as “%s”: it decides when to book the refill.",
		s.which(" "), v.Exact(unit.Grams(unit.RoundTo(float64(example), 100))))
}

// Weigh asks for a weight that decides.
func (v Voice) Weigh(s Situation) Notice { return s.notice(WeighDue, v.weighRequest(s)) }

// stale says that a weight may show that there is time, where the fear of running dry comes from not knowing.
func (v Voice) stale(s Situation) string {
	shows := "may show that there is still time"
	if s.old() {
		if s.usable() <= 0 {
			shows = "would tell"
		}
		return fmt.Sprintf("The last weight is from %s; a fresh one %s.", v.Moment(s.Outlook.LastSeen, s.Now), shows)
	}
	return when(!s.Outlook.Learned, "Your use is not known well yet; a weight every few days %s.", shows)
}

// Carry says what is to be carried and what help that needs: the 23 kg (51 lb) load constant of the revised NIOSH lifting equation (Waters et al. 1993) is the
// most it recommends for one person under the best conditions.
func (v Voice) Carry(s Situation) string {
	help := "within what one person may lift, held close"
	switch c := refill.CarryHelp(s.GrossFull); {
	case c.HandTruck:
		help = "for a hand truck"
	case c.Persons > 1:
		help = "two people or a hand truck"
	}
	return fmt.Sprintf("Full it weighs about %s, empty about %s: %s. Upright, cap on, never in a closed or hot car.",
		v.Mass(s.GrossFull), v.Mass(s.GrossEmpty), help)
}
