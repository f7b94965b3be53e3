package recorded

import (
	"errors"
	"regexp"
	"strconv"
	"strings"

	"tarebell/forecast/unit"
)

var pricePart = regexp.MustCompile(`^([0-9]{1,9}(?:\.[0-9]{1,3})?) ([A-Z]{3})$`)

// price reads "42.50 EUR".
func (e *Event) price(s string) bool {
	m := pricePart.FindStringSubmatch(s)
	if m == nil {
		return false
	}
	e.Paid, e.Currency = m[1], m[2]
	return true
}

// serving reads "6.1 g 0.84 L": the gas and the drink of one serving; "6.1 g" leaves the drink as it was.
func (e *Event) serving(s string) error {
	want := errors.New("want the gas and the drink of one serving, for example 6.1 g 0.84 L")
	gas, drink, _ := strings.Cut(s, " g")
	co2, err := strconv.ParseFloat(strings.TrimSpace(gas), 64)
	if err != nil || !plain(strings.TrimSpace(gas)) || co2 <= 0 || co2 > 1000 || gas == s {
		return want
	}
	e.CO2 = unit.Grams(co2)
	if drink = strings.TrimSpace(drink); drink == "" {
		return nil
	}
	number, ok := strings.CutSuffix(drink, " L")
	litres, err := strconv.ParseFloat(number, 64)
	if !ok || err != nil || !plain(number) || litres <= 0 || litres > 100 {
		return want
	}
	e.Litres = unit.Litres(litres)
	return nil
}

func (e Event) servingText() string {
	text := strconv.FormatFloat(float64(e.CO2), 'f', -1, 64) + " g"
	if e.Litres > 0 {
		text += " " + strconv.FormatFloat(float64(e.Litres), 'f', -1, 64) + " L"
	}
	return text
}

func (e *Event) inUse(s string) error {
	if len(s) > 200 {
		return errors.New("want the name of the cylinder whose place it takes, or nothing")
	}
	e.Instead = s
	return nil
}
