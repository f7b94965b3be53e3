package notice

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tarebell/forecast/cost"
	"tarebell/forecast/unit"
)

// shownMembers bounds the list of members, shownFills that of fills.
const (
	shownMembers = 12
	shownFills   = 4
)

// Cost says what a litre costs: the answer, then how it comes about.
func (v Voice) Cost(a Account) (headline string, body []string) {
	if !a.Gas.Known() {
		return "What the gas costs is not known yet: no price was told.",
			lines(a.Trouble, "Say it with the next filling, for example /filled net:"+v.Exact(9070)+" price:"+examplePrice[v.System]+", or put refill.price into the config.")
	}
	switch {
	case a.GramsPerLitre > 0:
		headline = fmt.Sprintf("A litre of sparkling drink costs you about %s.", a.Gas.PerLitre(unit.GramsPerLitre(a.GramsPerLitre)).Rounded())
	case v.System == unit.US:
		headline = fmt.Sprintf("A pound of gas costs %s.", a.Gas.Of(unit.GramsPerPound))
	default:
		headline = fmt.Sprintf("A kilogram of gas costs %s.", a.Gas.Of(unit.GramsPerKilogram))
	}
	body = lines(v.otherwise(a), v.payback(a), v.prices(a), when(a.Lost >= 1, "Lost without use: %s, worth %s.", v.Small(a.Lost), a.Gas.Of(a.Lost)),
		v.logged(a), a.Trouble)
	return headline, append(body, v.owed(a)...)
}

// examplePrice is what a filling may cost.
var examplePrice = map[unit.System]string{unit.Metric: "42 EUR", unit.US: "42 USD"}

// otherwise compares with what would be bought instead.
func (v Voice) otherwise(a Account) string {
	if !a.Compared {
		return ""
	}
	per := a.Saving.PerLitre.Rounded()
	made := float64(a.Used) / a.GramsPerLitre
	if per.Minor() < 0 {
		return fmt.Sprintf("Bought otherwise a litre is %s: that is %s less.", a.Alternative, per.Neg())
	}
	return fmt.Sprintf("Bought otherwise a litre is %s: you save %s a litre%s.", a.Alternative, per,
		when(made >= 1, ", so far %s on about %s", a.Saving.SoFar, litres(made)))
}

// payback says when the outlay is earned back.
func (v Voice) payback(a Account) string {
	if !a.Compared || a.Outlay.Minor() <= 0 {
		return ""
	}
	if a.Saving.PerLitre.Minor() <= 0 {
		return fmt.Sprintf("At these prices the outlay of %s is not earned back: a litre saves nothing.", a.Outlay)
	}
	if a.Saving.Open.Minor() <= 0 {
		return fmt.Sprintf("The outlay of %s is earned back.", a.Outlay)
	}
	line := fmt.Sprintf("Of the outlay of %s, %s are still to be earned back", a.Outlay, a.Saving.Open)
	p := a.Saving.Payback
	if !p.Known() {
		return line + "; too early to say by when."
	}
	mid, lo, hi := p.Quantile(0.5), p.Quantile(0.1), p.Quantile(0.9)
	if grainOf(mid) == never {
		return line + "; at these prices that does not happen within 20 years."
	}
	from, to := v.between(v.date(a.Now, lo, grainOf(hi)), v.date(a.Now, hi, grainOf(hi)), a.Now)
	return fmt.Sprintf("%s: by about %s as you drink now%s.", line, v.around(a.Now, mid),
		when(from != to && grainOf(hi) != never, ", four times out of five between %s and %s", from, to))
}

// prices lists the last fills that were paid for.
func (v Voice) prices(a Account) string {
	if a.Assumed {
		return "No price of a filling was told yet, so the price in the config is taken."
	}
	var paid []string
	for _, f := range a.Fills {
		if f.Price.Code() == "" {
			continue
		}
		paid = append(paid, fmt.Sprintf("%s on %s", f.Price, v.Day(f.At, a.Now))+when(f.Net() > 0, " for %s", v.Mass(f.Net())))
	}
	return when(len(paid) > 0, "Paid: %s.", strings.Join(paid[max(0, len(paid)-shownFills):], "; "))
}

// Net is what a fill brought, by receipt or else by the scale.
func (f Fill) Net() unit.Grams {
	if f.Receipt > 0 {
		return f.Receipt
	}
	return f.Seen
}

// logged says how much of the use people logged.
func (v Voice) logged(a Account) string {
	if a.Used < 1 {
		return ""
	}
	line := fmt.Sprintf("Used since %s: %s", v.Day(a.Since, a.Now), v.Small(a.Used))
	switch {
	case a.Servings == 0:
		return line + "; nobody logged a serving, so it is divided equally."
	case a.Logged >= a.Used*99/100:
		return line + "; all of it is logged."
	}
	if a.Logged == 0 {
		return line + fmt.Sprintf("; divided by the %s logged, as nobody knows yet how much gas one takes (/serving finds out).", Servings(a.Servings))
	}
	return line + fmt.Sprintf("; %s of it are logged, the other %s are divided equally.", v.Small(a.Logged), v.Small(a.Used-a.Logged))
}

// Servings counts them; halves are logged too.
func Servings(n float64) string {
	if n == 1 {
		return "1 serving"
	}
	return unit.Number(n, 0, 2) + " servings"
}

// owed is one line for each member, and how it comes about.
func (v Voice) owed(a Account) []string {
	var out []string
	charged := slices.ContainsFunc(a.Shares, func(s cost.Share) bool { return s.Paid.Minor() > 0 })
	for i, s := range a.Shares[:min(len(a.Shares), shownMembers)] {
		drew := "drew " + v.Small(s.Gas)
		if charged {
			drew = "drew for " + s.Cost.String()
		}
		n := a.Members[i].Servings
		out = append(out, s.Name+": "+when(n > 0, "%s, ", Servings(n))+drew+
			when(s.Paid.Minor() > 0, ", paid %s of which %s is drawn", s.Paid, s.Repaid.Decimal())+
			when(s.Balance.Minor() > 0, ": %s to pay", s.Balance)+when(s.Balance.Minor() < 0, ": %s to get", s.Balance.Neg())+".")
	}
	if more := len(a.Shares) - len(out); more > 0 {
		out = append(out, fmt.Sprintf("… and %d more.", more))
	}
	switch {
	case len(out) == 0:
		return nil
	case !charged:
		return append(out, "Who owes what is told once a filling has its price and who paid: /filled price:"+examplePrice[v.System]+".")
	}
	return append(out, "Each filling is charged as it is drawn, first in, first out, in favour of who paid it; gas still there or lost stays with them, and gas without a price or a payer costs nobody anything.")
}

// History tells the fillings of a cylinder, or of all of them, newest first.
func (v Voice) History(a Account, cylinder string) (headline string, body []string) {
	const most = 10
	for i := len(a.Fills) - 1; i >= 0; i-- {
		if f := a.Fills[i]; cylinder == "" || f.Cylinder == cylinder {
			body = append(body, v.fillLine(f, a))
		}
	}
	n := len(body)
	if n == 0 {
		return "Nothing is known yet about fillings.", []string{"Say /filled when one comes; the scale sees it by itself too."}
	}
	if n > most {
		body = append(body[:most], fmt.Sprintf("… and %d before; bot export writes them all into a table.", n-most))
	}
	return plural(float64(n), "filling") + when(n > 1, ", newest first") + ":", body
}

func (v Voice) fillLine(f Fill, a Account) string {
	what := "filled"
	switch {
	case f.First:
		what = "what was in it at the first weighing"
	case f.Receipt > 0 && f.Seen > 0:
		what = fmt.Sprintf("%s by receipt, %s ± %s by scale", v.Mass(f.Receipt), v.Mass(f.Seen), v.Small(f.SeenSD))
	case f.Receipt > 0:
		what = v.Mass(f.Receipt) + " by receipt"
	case f.Seen > 0:
		what = v.Mass(f.Seen) + " by scale"
	}
	until, word := f.Until, "lasted"
	if until.IsZero() {
		until, word = a.Now, "in use for"
	}
	days := unit.Between(f.At, until)
	known := !math.IsNaN(float64(f.Used))
	return v.Day(f.At, a.Now) + when(a.Named, ", %s", f.Cylinder) + ": " + strings.Join(lines(what,
		when(f.Tare > 0, "another cylinder, tare %s", v.Exact(f.Tare)),
		when(f.Price.Known(), "%s%s", f.Price, when(f.By != "", " paid by %s", f.By)),
		when(days >= 1, "%s %s", word, span(days)),
		when(days >= 7 && known, "%s a day", v.Small(f.Used/unit.Grams(days))),
		when(days >= 1 && f.Lost >= 1, "%s lost", v.Small(f.Lost))), "; ") + "."
}
