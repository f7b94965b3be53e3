package command

import (
	"fmt"
	"strconv"
	"strings"

	"tarebell/forecast/unit"
	"tarebell/sources/entry"
)

// argument is what is left of a button's argument, whose parts a colon divides. The last may hold colons itself.
type argument struct {
	rest string
	bad  bool // it could not be read so far
}

// next is the next part, which is not the last.
func (a *argument) next() string {
	part, rest, more := strings.Cut(a.rest, ":")
	a.rest, a.bad = rest, a.bad || !more
	return part
}

// int reads a part that is a whole number.
func (a *argument) int(part string) int64 {
	n, err := strconv.ParseInt(part, 10, 64)
	a.bad = a.bad || err != nil
	return n
}

// grams reads a part that is a mass.
func (a *argument) grams(part string) unit.Grams {
	g, err := strconv.ParseFloat(part, 64)
	a.bad = a.bad || err != nil || g-g != 0 // NaN of infinities and NaN
	return unit.Grams(g)
}

// price reads what priceArgument wrote.
func (a *argument) price(part string) unit.Money {
	if part == "" {
		return unit.Money{}
	}
	n := max(len(part)-3, 0)
	m, err := unit.NewMoney(a.int(part[:n]), part[n:])
	a.bad = a.bad || err != nil
	return m
}

// priceArgument is a price in minor units and its currency, "" for none.
func priceArgument(m unit.Money) string {
	if !m.Known() {
		return ""
	}
	return fmt.Sprintf("%d%s", m.Minor(), m.Code())
}

// weight reads what weightArgument wrote.
func (a *argument) weight(part string) entry.Understood {
	typed, net := strings.CutSuffix(part, "n")
	mass, number, _ := strings.Cut(typed, "/")
	return entry.Understood{Gross: a.grams(mass), Net: net, Unit: entry.Unit(a.int(number))}
}

// weightArgument is a mass: grams to the hundredth, the unit it was typed in, and n if it is the gas alone.
func weightArgument(u entry.Understood) string {
	net := ""
	if u.Net {
		net = "n"
	}
	return fmt.Sprintf("%.2f/%d%s", float64(u.Gross), u.Unit, net)
}
