package command

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit"
)

func (d *Desk) cost(_ context.Context, c chat.Call) (chat.Answer, error) {
	head, body := d.opt.Voice.Cost(d.opt.House.Account(c.At))
	return say(head, body...), nil
}

func (d *Desk) history(_ context.Context, c chat.Call) (chat.Answer, error) {
	name := c.Options["cylinder"]
	if name != "" {
		if _, err := d.situation(name, c.At); err != nil {
			return chat.Answer{}, err
		}
	}
	head, body := d.opt.Voice.History(d.opt.House.Account(c.At), name)
	return say(head, body...), nil
}

// signs are what people write for the commonest currencies. A bare $ is the household's own dollar, if it has one.
var signs = map[string]string{"€": "EUR", "£": "GBP", "$": "USD", "¥": "JPY", "US$": "USD", "A$": "AUD", "C$": "CAD", "NZ$": "NZD"}

// price reads what was paid: 42, 42.50 EUR, EUR 42,50, €42. Without a currency it is the household's. Absent it is none.
func (d *Desk) price(text string, now time.Time) (unit.Money, error) {
	t := strings.TrimSpace(text)
	if t == "" {
		return unit.Money{}, nil
	}
	number := strings.TrimSpace(strings.Trim(t, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz€£$¥ "))
	code := strings.ToUpper(strings.TrimSpace(strings.Replace(t, number, "", 1)))
	own := d.currency(now)
	switch sign := signs[code]; {
	case code == "":
		code = own
	case code == "$" && strings.HasSuffix(own, "D"):
		code = own
	case sign != "":
		code = sign
	}
	example := "Write it like 42.50 EUR."
	if own != "" {
		example = "Write it like 42.50 " + own + "."
	}
	if code == "" {
		return unit.Money{}, &Problem{fmt.Sprintf("In which currency is “%s”?", t), example}
	}
	m, err := unit.ParseMoney(number, code)
	switch {
	case err != nil || m.Minor() <= 0:
		return unit.Money{}, &Problem{fmt.Sprintf("“%s” is not a price.", t), example}
	case own != "" && m.Code() != own:
		return unit.Money{}, &Problem{fmt.Sprintf("“%s” is in %s, but this household reckons in %s.", t, m.Code(), own), "Write it in " + own + "."}
	}
	return m, nil
}

// currency is the household's own; "" when none was told yet.
func (d *Desk) currency(now time.Time) string {
	if d.opt.Currency != "" {
		return d.opt.Currency
	}
	for _, f := range d.opt.House.Account(now).Fills {
		if code := f.Price.Code(); code != "" {
			return code
		}
	}
	return ""
}
