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
			lines(a.Trouble, "Say it with the next filling, for example /filled net:"+v.Exact(9070)+" price:"+v.price()+", or put refill.price into the config.")
	}
	headline = fmt.Sprintf("%s of gas costs %s.", v.unitMass(), a.Gas.Of(v.unitGrams()))
	if a.GramsPerLitre > 0 {
		headline = fmt.Sprintf("A litre of sparkling drink costs you about %s.", a.Gas.PerLitre(unit.GramsPerLitre(a.GramsPerLitre)).Rounded())
	}
	body = lines(v.otherwise(a), v.payback(a), v.prices(a), v.wasted(a), v.logged(a), a.Trouble)
	return headline, append(body, v.owed(a)...)
}

func (v Voice) unitGrams() unit.Grams {
	if v.US {
		return unit.GramsPerPound
	}
	return unit.GramsPerKilogram
}

func (v Voice) unitMass() string {
	if v.US {
		return "A pound"
	}
	return "A kilogram"
}

// otherwise compares with what would be bought instead.
func (v Voice) otherwise(a Account) string {
	if !a.Compared {
		return ""
	}
	per := a.Saving.PerLitre.Rounded()
	made := float64(a.Used) / a.GramsPerLitre
	switch {
	case per.Minor() < 0:
		return fmt.Sprintf("Bought otherwise a litre is %s: that is %s less.", a.Alternative, per.Neg())
	case made < 1:
		return fmt.Sprintf("Bought otherwise a litre is %s: you save %s a litre.", a.Alternative, per)
	}
	return fmt.Sprintf("Bought otherwise a litre is %s: you save %s a litre, so far %s on about %s.", a.Alternative, per, a.Saving.SoFar, litres(made))
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
	line += fmt.Sprintf(": by about %s as you drink now", v.around(a.Now, mid))
	from, to := v.between(v.date(a.Now, lo, grainOf(hi)), v.date(a.Now, hi, grainOf(hi)), a.Now)
	if from != to && grainOf(hi) != never {
		line += fmt.Sprintf(", four times out of five between %s and %s", from, to)
	}
	return line + "."
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
		text := fmt.Sprintf("%s on %s", f.Price, v.Day(f.At, a.Now))
		if net := f.Net(); net > 0 {
			text += fmt.Sprintf(" for %s", v.Mass(net))
		}
		paid = append(paid, text)
	}
	if len(paid) == 0 {
		return ""
	}
	paid = paid[max(0, len(paid)-shownFills):]
	return "Paid: " + strings.Join(paid, "; ") + "."
}

// Net is what a fill brought, by receipt or else by the scale.
func (f Fill) Net() unit.Grams {
	if f.Receipt > 0 {
		return f.Receipt
	}
	return f.Seen
}

func (v Voice) wasted(a Account) string {
	if a.Lost < 1 {
		return ""
	}
	return fmt.Sprintf("Lost without use: %s, worth %s.", v.Small(a.Lost), a.Gas.Of(a.Lost))
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
	for i, s := range a.Shares {
		if i == shownMembers {
			out = append(out, fmt.Sprintf("… and %d more.", len(a.Shares)-i))
		}
		if i >= shownMembers {
			continue
		}
		line := s.Name + ": "
		if n := a.Members[i].Servings; n > 0 {
			line += Servings(n) + ", "
		}
		if charged {
			line += "drew for " + s.Cost.String()
		} else {
			line += "drew " + v.Small(s.Gas)
		}
		if s.Paid.Minor() > 0 {
			line += fmt.Sprintf(", paid %s of which %s is drawn", s.Paid, s.Repaid.Decimal())
		}
		switch {
		case s.Balance.Minor() > 0:
			line += fmt.Sprintf(": %s to pay", s.Balance)
		case s.Balance.Minor() < 0:
			line += fmt.Sprintf(": %s to get", s.Balance.Neg())
		}
		out = append(out, line+".")
	}
	switch {
	case len(out) == 0:
		return nil
	case !charged:
		return append(out, "Who owes what is told once a filling has its price and who paid: /filled price:"+v.price()+".")
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
	if n == 1 {
		return "1 filling:", body
	}
	return plural(float64(n), "filling") + ", newest first:", body
}

func (v Voice) fillLine(f Fill, a Account) string {
	line := v.Day(f.At, a.Now) + ": "
	if a.Named {
		line = v.Day(f.At, a.Now) + ", " + f.Cylinder + ": "
	}
	var parts []string
	switch {
	case f.First:
		parts = append(parts, "what was in it at the first weighing")
	case f.Receipt > 0 && f.Seen > 0:
		parts = append(parts, fmt.Sprintf("%s by receipt, %s ± %s by scale", v.Mass(f.Receipt), v.Mass(f.Seen), v.Small(f.SeenSD)))
	case f.Receipt > 0:
		parts = append(parts, v.Mass(f.Receipt)+" by receipt")
	case f.Seen > 0:
		parts = append(parts, v.Mass(f.Seen)+" by scale")
	default:
		parts = append(parts, "filled")
	}
	if f.Tare > 0 {
		parts = append(parts, "another cylinder, tare "+v.Exact(f.Tare))
	}
	if f.Price.Code() != "" {
		paid := f.Price.String()
		if f.By != "" {
			paid += " paid by " + f.By
		}
		parts = append(parts, paid)
	}
	return line + strings.Join(append(parts, v.lasted(f, a)...), "; ") + "."
}

// lasted says how long a fill lasted, at what use.
func (v Voice) lasted(f Fill, a Account) []string {
	until, word := f.Until, "lasted"
	if until.IsZero() {
		until, word = a.Now, "in use for"
	}
	days := unit.Between(f.At, until)
	if days < 1 {
		return nil
	}
	parts := []string{word + " " + span(days)}
	if !math.IsNaN(float64(f.Used)) && days >= 7 {
		parts = append(parts, v.Small(f.Used/unit.Grams(days))+" a day")
	}
	if f.Lost >= 1 {
		parts = append(parts, v.Small(f.Lost)+" lost")
	}
	return parts
}

// price is what a filling may cost, for an example.
func (v Voice) price() string {
	if v.US {
		return "42 USD"
	}
	return "42 EUR"
}
