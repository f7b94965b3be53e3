package notice

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// Tomorrow reminds, the day before, of a booked refill.
func (v Voice) Tomorrow(s Situation, key, follows string) Notice {
	n := Notice{Key: key, Follows: follows, Kind: RefillDue, Cylinder: s.Cylinder, At: s.Now,
		Headline: fmt.Sprintf("The refill%s is booked for tomorrow, %s.", s.of(), v.Day(s.Booked, s.Now))}
	n.Body = lines(v.helpers(s), v.bring(s), v.retestDuty(s), v.supplier(s), v.Carry(s))
	n.Actions = []Action{{"booked:" + s.Cylinder, "Another day…"}, {"nobook:" + s.Cylinder, "Couldn't get one"}}
	return n
}

// TooLate says that the gas may end before the booked day, "" when that is unlikely or nobody knows.
func (v Voice) TooLate(s Situation) string {
	o := s.Outlook
	if s.Booked.IsZero() || !o.RunOut.Known() || !o.Learned && !s.Guess {
		return ""
	}
	until := o.RunOut.Quantile(0.5)
	if unit.Between(s.Now, s.Booked) <= until {
		return ""
	}
	return fmt.Sprintf("That may be too late: the gas is enough until about %s.", v.around(s.Now, until))
}

// DidItCome asks, once, when the booked day has passed and no filling was told or seen.
func (v Voice) DidItCome(s Situation, key, follows string) Notice {
	n := Notice{Key: key, Follows: follows, Kind: RefillDue, Cylinder: s.Cylinder, At: s.Now,
		Headline: fmt.Sprintf("The refill%s was booked for %s. Did it come?", s.of(), v.Day(s.Booked, s.Now)),
		Body:     lines("No filling was told or seen since. " + v.Lasts(s)),
		Actions: []Action{{"here:" + s.Cylinder, "It's here…"}, {"booked:" + s.Cylinder, "It comes later…"},
			{"nobook:" + s.Cylinder, "Couldn't get one"}}}
	if s.Outlook.LastSeen.Before(s.Booked) {
		n.Kind = WeighDue
		n.Body = []string{"Nothing was weighed since: a weight would tell, too."}
	}
	return n
}

// lines leaves out what is empty.
func lines(all ...string) []string {
	var out []string
	for _, l := range all {
		if l != "" {
			out = append(out, l)
		}
	}
	return out
}

// lead says how long a refill takes, and when one booked now would come.
func (v Voice) lead(s Situation) string {
	line := fmt.Sprintf("A refill takes %s from booking", plural(float64(s.LeadDays), "day"))
	switch {
	case s.LeadBookings == 1:
		line += ", going by the last one"
	case s.LeadBookings > 1:
		line += fmt.Sprintf(", going by the last %d", s.LeadBookings)
	}
	if !s.ComesOn.IsZero() && s.Booked.IsZero() {
		line += fmt.Sprintf("; booked at the first chance it would come on %s", v.Day(s.ComesOn, s.Now))
	}
	return line + "."
}

// risk says what waiting costs, when booking is near.
func (v Voice) risk(s Situation) string {
	if !s.Booked.IsZero() || s.BookBy.IsZero() || s.BookBy.Sub(s.Now) > 7*24*time.Hour || !(s.RiskLater > s.RiskNow) || s.endsFirst() {
		return ""
	}
	return fmt.Sprintf("Booked at the first chance it runs dry before the refill comes %s; booked a chance later, %s.", chance(s.RiskNow), chance(s.RiskLater))
}

// chance is a probability as people tell it.
func chance(p float64) string {
	switch n := math.Round(100 * p); {
	case n < 1:
		return "hardly ever"
	case n > 99:
		return "almost surely"
	case n == 1:
		return "once in 100"
	default:
		return fmt.Sprintf("%.0f times in 100", n)
	}
}

func (v Voice) closures(s Situation) string {
	var days []string
	for _, c := range s.Closures {
		days = append(days, fmt.Sprintf("%s (%s)", v.Day(c.Day, s.Now), c.Name))
	}
	if len(days) == 0 {
		return ""
	}
	return "The supplier is closed on " + and(days) + "; that is counted in."
}

func (v Voice) supplier(s Situation) string {
	if s.Supplier == "" {
		return ""
	}
	return "Supplier: " + strings.TrimRight(s.Supplier, ".") + "."
}

// bring says what becomes of the cylinder at the supplier's.
func (v Voice) bring(s Situation) string {
	if s.Swap {
		return "The supplier swaps the cylinder: take the fittings off first, and note the tare stamped on the one you get, for /filled."
	}
	return ""
}

// retestLine says whether the stamped retest still allows a filling. The supplier has the last word (49 CFR
// 180.205(c), ADR 4.1.4.1 P200: not to be filled once it is due).
func (v Voice) retestLine(s Situation) string {
	month := ""
	if !s.RetestDue.IsZero() {
		month = v.month(s.RetestDue, time.Time{})
	}
	switch {
	case s.Swap:
		return "" // the cylinder stays with the supplier
	case s.Retest == refill.Expired && s.RetestDue.After(s.Now):
		return fmt.Sprintf("Its retest falls due in %s, perhaps before the next filling: after that month it may not be filled before it is inspected. Ask the supplier when booking.", month)
	case s.Retest == refill.Expired:
		return fmt.Sprintf("Its retest has been due since %s: it may not be filled before it is inspected. Ask the supplier to have it done, and how long that takes.", month)
	case s.Retest == refill.DueMonth:
		return fmt.Sprintf("Its retest falls due in %s: ask the supplier whether it is still filled that month.", month)
	case s.Retest == refill.Good && s.RetestDue.Before(s.Now.AddDate(1, 0, 0)):
		return fmt.Sprintf("Its retest falls due in %s, after this refill.", month)
	}
	return ""
}

// retestDuty is what there is to ask the supplier about the retest; nothing while it still allows this filling.
func (v Voice) retestDuty(s Situation) string {
	if s.Retest == refill.Good {
		return ""
	}
	return v.retestLine(s)
}

// turn says whose turn it would be. It names nobody who did not do it.
func (v Voice) turn(s Situation) string {
	if len(s.Turns) < 2 || s.Carrier != "" || !s.Booked.IsZero() {
		return ""
	}
	first, last := s.Turns[0], ""
	if !first.Last.IsZero() {
		last = fmt.Sprintf(" (last time %s)", v.Day(first.Last, s.Now))
	}
	var next []string
	for _, t := range s.Turns[1:] {
		next = append(next, t.Name)
	}
	return fmt.Sprintf("By turns it would be %s%s, then %s; anyone may do it.", first.Name, last, and(next))
}

// seesTo says who carries. At a terminal whoever sits there is called "me".
func seesTo(name string) string {
	if name == "me" {
		return "you see to it"
	}
	return name + " sees to it"
}

func (v Voice) helpers(s Situation) string {
	who := ""
	if s.Carrier != "" {
		who = seesTo(s.Carrier)
	}
	if c := refill.CarryHelp(s.GrossFull); len(s.Helpers) > 0 && c.Persons > 1 {
		if who != "" {
			who += "; "
		}
		return who + and(s.Helpers) + " can help to carry."
	}
	if who != "" {
		return who + "."
	}
	return ""
}

// and joins words as people do; of many only the first four.
func and(words []string) string {
	switch n := len(words); {
	case n == 0:
		return ""
	case n == 1:
		return words[0]
	case n > 5:
		return strings.Join(words[:4], ", ") + fmt.Sprintf(" and %d others", n-4)
	default:
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
}

func (v Voice) spare(s Situation) string {
	if s.FullSpare == "" {
		return ""
	}
	return fmt.Sprintf("Cylinder %s stands by full and is counted in; /use %s when it takes over.", s.FullSpare, s.FullSpare)
}

// waits says what there is to say of a cylinder that waits its turn.
func (v Voice) waits(s Situation) string {
	if s.Rest <= 0 {
		return fmt.Sprintf("Cylinder %s waits its turn.", s.Cylinder)
	}
	return fmt.Sprintf("Cylinder %s waits its turn, with about %s of gas.", s.Cylinder, v.Mass(s.Rest))
}

// Plan says how getting the refill stands: the answer, then what to know.
func (v Voice) Plan(s Situation) (headline string, body []string) {
	headline = v.toBook(s)
	switch {
	case s.Spare:
		return v.waits(s), lines(v.retestLine(s), v.Carry(s))
	case headline != "":
	case !s.Outlook.Known:
		return v.Lasts(s), v.Reasons(s)
	case !s.Outlook.Learned && !s.Guess:
		headline = "Nothing to book yet; too early to say when."
	case s.BookBy.IsZero():
		headline = "Nothing to book for years."
	default:
		headline = fmt.Sprintf(nothingToBook+"%s.", v.around(s.Now, unit.Between(s.Now, s.BookBy)))
	}
	told := s
	if !s.Booked.IsZero() {
		told.Carrier = "" // the headline named them
	}
	why, till := v.Why(s), ""
	if s.endsFirst() {
		till = tillThen
	}
	return headline, lines(v.Lasts(s), v.Spread(s), till, why, v.spare(s), v.helpers(told), v.turn(s), v.lead(s), v.risk(s), v.closures(s), v.supplier(s), v.bring(s),
		v.retestLine(s))
}

// Errand is what a calendar shows on the day of a booked refill.
func (v Voice) Errand(s Situation) (summary string, notes []string) {
	summary = "CO2 refill"
	if s.Named {
		summary += ", cylinder " + s.Cylinder
	}
	return summary, lines(v.helpers(s), v.bring(s), v.retestDuty(s), v.supplier(s), v.Carry(s), "Afterwards say /filled with what the receipt says.")
}
