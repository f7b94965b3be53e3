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
func (v Voice) Tomorrow(s Situation) Notice {
	n := s.notice(RefillDue, fmt.Sprintf("The refill%s is booked for tomorrow, %s.", s.of(), v.Day(s.Booked, s.Now)), v.duties(s)...)
	n.Actions = []Action{{"booked:" + s.Cylinder, "Another day…"}, {"nobook:" + s.Cylinder, "Couldn't get one"}}
	return n
}

// duties is what to know on the way to the supplier.
func (v Voice) duties(s Situation) []string {
	return lines(s.helpers(s.GrossFull), s.bring(), s.retestDuty(s.Now), s.supplier(), v.Carry(s))
}

// TooLate says that the gas may end before the booked day, "" when that is unlikely or nobody knows.
func (v Voice) TooLate(s Situation) string {
	o := s.Outlook
	if s.Booked.IsZero() || !o.RunOut.Known() || !s.Datable() {
		return ""
	}
	until := o.RunOut.Quantile(0.5)
	return when(unit.Between(s.Now, s.Booked) > until, "That may be too late: the gas is enough until about %s.", v.around(s.Now, until))
}

// DidItCome asks, once, when the booked day has passed and no filling was told or seen.
func (v Voice) DidItCome(s Situation) Notice {
	kind, more := RefillDue, "No filling was told or seen since. "+v.GasLeft(s)
	if s.Outlook.LastSeen.Before(s.Booked) {
		kind, more = WeighDue, "Nothing was weighed since: a weight would tell, too."
	}
	n := s.notice(kind, fmt.Sprintf("The refill%s was booked for %s. Did it come?", s.of(), v.Day(s.Booked, s.Now)), more)
	n.Actions = []Action{{"here:" + s.Cylinder, "It's here…"}, {"booked:" + s.Cylinder, "It comes later…"}, {"nobook:" + s.Cylinder, "Couldn't get one"}}
	return n
}

// lead says how long a refill takes, and when one booked now would come.
func (v Voice) lead(s Situation) string {
	learned := when(s.LeadBookings > 1, ", going by the last %d", s.LeadBookings)
	if s.LeadBookings == 1 {
		learned = ", going by the last one"
	}
	return fmt.Sprintf("A refill takes %s from booking%s%s.", plural(float64(s.LeadDays), "day"), learned,
		when(!s.Earliest.IsZero() && s.Booked.IsZero(), "; booked at the first chance it would come on %s", v.Day(s.Earliest, s.Now)))
}

// risk says what waiting costs, when booking is near.
func (v Voice) risk(s Situation) string {
	if !s.Booked.IsZero() || s.BookBy.IsZero() || s.BookBy.Sub(s.Now) > 7*24*time.Hour || !(s.RiskLater > s.RiskNow) || s.endsFirst() {
		return ""
	}
	return fmt.Sprintf("Booked at the first chance it runs dry before the refill comes %s; booked a chance later, %s.", probability(s.RiskNow), probability(s.RiskLater))
}

// probability is p as people tell it.
func probability(p float64) string {
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
	return when(len(days) > 0, "The supplier is closed on %s; that is counted in.", and(days))
}

func (r Refill) supplier() string {
	return when(r.Supplier != "", "Supplier: %s.", strings.TrimRight(r.Supplier, "."))
}

// bring says what becomes of the cylinder at the supplier's.
func (r Refill) bring() string {
	return when(r.Swap, "The supplier swaps the cylinder: take the fittings off first, and note the tare stamped on the one you get, for /filled.")
}

// retestLine says whether the stamped retest still allows a filling. The supplier has the last word (49 CFR
// 180.205(c), ADR 4.1.4.1 P200: not to be filled once it is due).
func (r Refill) retestLine(now time.Time) string {
	falls := "Its retest falls due in " + month(r.RetestDue)
	switch {
	case r.Swap:
		return "" // the cylinder stays with the supplier
	case r.Retest == refill.Expired && r.RetestDue.After(now):
		return falls + ", perhaps before the next filling: after that month it may not be filled before it is inspected. Ask the supplier when booking."
	case r.Retest == refill.Expired:
		return "Its retest has been due since " + month(r.RetestDue) + ": it may not be filled before it is inspected. Ask the supplier to have it done, and how long that takes."
	case r.Retest == refill.DueMonth:
		return falls + ": ask the supplier whether it is still filled that month."
	case r.Retest == refill.Good && r.RetestDue.Before(now.AddDate(1, 0, 0)):
		return falls + ", after this refill."
	}
	return ""
}

// retestDuty is what there is to ask the supplier about the retest; nothing while it still allows this filling.
func (r Refill) retestDuty(now time.Time) string {
	return when(r.Retest != refill.Good, "%s", r.retestLine(now))
}

// turn says whose turn it would be. It names nobody who did not do it.
func (v Voice) turn(s Situation) string {
	if len(s.Turns) < 2 || s.Carrier != "" || !s.Booked.IsZero() {
		return ""
	}
	first := s.Turns[0]
	last := when(!first.Last.IsZero(), " (last time %s)", v.Day(first.Last, s.Now))
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

// helpers says who carries, and who can help with a cylinder that weighs so much.
func (r Refill) helpers(full unit.Grams) string {
	who := lines(when(r.Carrier != "", "%s", seesTo(r.Carrier)),
		when(len(r.Helpers) > 0 && refill.CarryHelp(full).Persons > 1, "%s can help to carry", and(r.Helpers)))
	return when(len(who) > 0, "%s.", strings.Join(who, "; "))
}

// waits says what there is to say of a cylinder that waits its turn.
func (v Voice) waits(s Situation) string {
	return fmt.Sprintf("Cylinder %s waits its turn%s.", s.Cylinder, when(s.SpareNet > 0, ", with about %s of gas", v.Mass(s.SpareNet)))
}

// Plan says how getting the refill stands: the answer, then what to know.
func (v Voice) Plan(s Situation) (headline string, body []string) {
	switch headline = v.toBook(s); {
	case s.Spare:
		return v.waits(s), lines(s.retestLine(s.Now), v.Carry(s))
	case headline != "":
	case !s.Outlook.Known:
		return v.GasLeft(s), v.Reasons(s)
	case !s.Datable():
		headline = "Nothing to book yet; too early to say when."
	case s.BookBy.IsZero():
		headline = "Nothing to book for years."
	default:
		headline = fmt.Sprintf("Nothing to book before %s.", v.around(s.Now, unit.Between(s.Now, s.BookBy)))
	}
	carriers := s.Refill
	if !s.Booked.IsZero() {
		carriers.Carrier = "" // the headline named them
	}
	return headline, lines(v.GasLeft(s), v.Spread(s), s.spareGas(), v.Why(s),
		when(s.FullSpare != "", "Cylinder %[1]s stands by full and is counted in; /use %[1]s when it takes over.", s.FullSpare),
		carriers.helpers(s.GrossFull), v.turn(s), v.lead(s), v.risk(s), v.closures(s), s.supplier(), s.bring(), s.retestLine(s.Now))
}

// Errand is what a calendar shows on the day of a booked refill.
func (v Voice) Errand(s Situation) (summary string, notes []string) {
	return "CO2 refill" + s.which(", cylinder "), append(v.duties(s), "Afterwards say /filled with what the receipt says.")
}
