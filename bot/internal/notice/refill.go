package notice

import (
	"fmt"
	"math"

	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// nothingToBook begins the line that asks for nothing.
const nothingToBook = "Nothing to book before "

func (v Voice) toBook(s Situation) string {
	switch {
	case !s.Booked.IsZero() && s.Carrier != "":
		return fmt.Sprintf("The refill is booked for %s; %s.", v.Day(s.Booked, s.Now), seesTo(s.Carrier))
	case !s.Booked.IsZero():
		return fmt.Sprintf("The refill is booked for %s.", v.Day(s.Booked, s.Now))
	case s.BookBy.IsZero() || !s.Outlook.Learned && !s.Guess && s.BookBy.After(s.Now):
		return ""
	}
	switch days := v.CalendarDays(s.Now, s.BookBy); {
	case s.endsFirst():
		return v.ends(s)
	case days <= 0:
		return "The refill should be booked now."
	case days <= 21:
		return fmt.Sprintf("Book the refill by %s.", v.Day(s.BookBy, s.Now))
	case days <= 120:
		return fmt.Sprintf(nothingToBook+"%s.", v.around(s.Now, unit.Days(days)))
	default:
		return ""
	}
}

// endsFirst reports that the gas will more likely than not be gone before a refill booked at the first chance comes.
func (s Situation) endsFirst() bool { return s.Booked.IsZero() && s.Plan.Overdue && s.RiskNow > 0.5 }

func (v Voice) ends(s Situation) string {
	return fmt.Sprintf("The gas most likely ends before a refill comes: booked now, that is about %s.", v.Day(s.ComesOn, s.Now))
}

// tillThen is what to do when the gas ends before the refill comes.
const tillThen = "Drawing less makes it last longer; ask the supplier for an earlier day or a cylinder on loan."

// Refill says that it is time to book. again counts the reminders already given for this fill.
func (v Voice) Refill(s Situation, key, follows string, again int) Notice {
	n := Notice{Key: key, Follows: follows, Kind: RefillDue, Cylinder: s.Cylinder, At: s.Now, Severity: Warning, Picture: &s}
	n.Headline = v.dueHeadline(s, again)
	n.Body = lines(v.leftUntil(s))
	if s.endsFirst() {
		n.Body = append(n.Body, tillThen)
	}
	if stale := v.stale(s); stale != "" {
		n.Body = append(n.Body, stale)
	}
	who := ""
	if s.Carrier != "" {
		who = s.Carrier + " said they would see to it."
	}
	n.Body = append(n.Body, lines(who, v.turn(s), v.closures(s), v.supplier(s), v.bring(s), v.retestDuty(s))...)
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
	if !o.RunOut.Known() || s.usable() <= 0 {
		return ""
	}
	early, takes := v.around(s.Now, o.RunOut.Quantile(0.05)), plural(float64(s.LeadDays), "day")
	switch {
	case s.adrift():
		return fmt.Sprintf("What is left cannot be told before it is weighed again; it may last only until %s, and a refill takes %s.", early, takes)
	case !o.Learned && !s.Guess:
		return fmt.Sprintf("%s of gas is left; too early to say how long it lasts, perhaps only until %s; a refill takes %s.", v.Mass(s.usable()), early, takes)
	}
	return fmt.Sprintf("%s of gas is left, until about %s, perhaps only until %s; a refill takes %s.",
		v.Mass(s.usable()), v.around(s.Now, o.RunOut.Quantile(0.5)), early, takes)
}

// dueHeadline says that the refill is to be booked, and until when that is in time.
func (v Voice) dueHeadline(s Situation, again int) string {
	left := v.CalendarDays(s.Now, s.BookBy)
	day := v.Day(s.BookBy, s.Now)
	switch {
	case !s.Missed.IsZero():
		return fmt.Sprintf("The refill%s that was booked for %s is not here; please ask the supplier, or book another.", s.of(), v.Day(s.Missed, s.Now))
	case s.usable() <= 0 && (s.adrift() || s.old()):
		return fmt.Sprintf("%s may be about empty, and no refill is booked.", s.the())
	case s.usable() <= 0:
		return fmt.Sprintf("%s is about empty, and no refill is booked.", s.the())
	case s.endsFirst():
		return v.ends(s)
	case again > 0 && left > 0 && !s.Plan.Overdue:
		return fmt.Sprintf("The refill%s is still not booked; %s is the last good day.", s.of(), day)
	case again > 0:
		return fmt.Sprintf("The refill%s is still not booked, and each day makes it likelier that the gas ends first.", s.of())
	case s.Plan.Overdue && left > 0:
		return fmt.Sprintf("Time to book the refill%s: %s is the first day the supplier is open.", s.of(), day)
	case s.Plan.Overdue:
		return fmt.Sprintf("Time to book the refill%s: every day counts now.", s.of())
	case left > 0:
		return fmt.Sprintf("Time to book the refill%s: %s is the last good day.", s.of(), day)
	}
	return fmt.Sprintf("Time to book the refill%s: today, %s, is the last good day.", s.of(), day)
}

// weighRequest asks for a weight in one sentence.
func (v Voice) weighRequest(s Situation) string {
	example := s.House + unit.Grams(math.Max(0, s.Outlook.Gas.Mean))
	return fmt.Sprintf("Please weigh the cylinder%s today or tomorrow and type what the scale says, such as “%s”: it decides whether the refill has to be booked.",
		v.named(s), v.Exact(unit.Grams(roundTo(float64(example), 100))))
}

// Weigh asks for a weight that decides.
func (v Voice) Weigh(s Situation, key string) Notice {
	return Notice{Key: key, Kind: WeighDue, Cylinder: s.Cylinder, At: s.Now, Severity: Info, Headline: v.weighRequest(s)}
}

// stale says that a weight may show that there is time, where the fear of running dry comes from not knowing.
func (v Voice) stale(s Situation) string {
	switch {
	case s.old() && s.usable() <= 0:
		return fmt.Sprintf("The last weight is from %s; a fresh one would tell.", v.Moment(s.Outlook.LastSeen, s.Now))
	case s.old():
		return fmt.Sprintf("The last weight is from %s; a fresh one may show that there is still time.", v.Moment(s.Outlook.LastSeen, s.Now))
	case !s.Outlook.Learned:
		return "Your use is not known well yet; a weight every few days may show that there is still time."
	}
	return ""
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
