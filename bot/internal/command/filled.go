package command

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"regexp"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

var sums = regexp.MustCompile(`[€£$¥]?\d+(?:[.,]\d+)? ?(?:[A-Za-z]+|[€£$¥])?`)

// splitFilling parts a filling that was told in one breath, "9.8 kg 45 EUR 14.2 kg Bo": gas, price, tare and who paid, each as far as it is there.
func splitFilling(typed map[string]string) map[string]string {
	text := strings.TrimSpace(typed["net"])
	found := sums.FindAllString(text, -1)
	if len(typed["price"])+len(typed["tare"])+len(typed["payer"]) > 0 || len(found) < 2 {
		return typed
	}
	out := maps.Clone(typed)
	masses := []string{"net", "tare"}
	delete(out, "net")
	for _, s := range found {
		if _, ok := entry.Mass(s, unit.Metric); ok && len(masses) > 0 {
			out[masses[0]], masses = s, masses[1:]
		} else if out["price"] == "" {
			out["price"] = s
		} else {
			return typed
		}
	}
	if rest := strings.Trim(sums.ReplaceAllString(text, ""), " ,;"); rest != "" {
		out["payer"] = strings.Join(strings.Fields(rest), " ")
	}
	return out
}

// sameDay is within what time a second filling of the same cylinder is asked back.
const sameDay = 12 * time.Hour

// filledForm asks what came, then stores it.
func (h *Handler) filledForm(ctx context.Context, r request, s notice.Situation) (chat.Answer, error) {
	if r.options == nil {
		return chat.Answer{Form: &chat.Form{ID: r.button, Title: "The refill is here", Fields: []chat.Field{
			{Name: "net", Label: "Gas on the receipt, if it says", Example: h.opt.Voice.Exact(9070)},
			{Name: "price", Label: "What was paid", Example: "42.50 EUR"},
			{Name: "tare", Label: "Stamped tare, if it is another cylinder", Example: h.opt.Voice.Exact(14300)}}}}, nil
	}
	return h.filled(ctx, r, s)
}

// filled reads what was typed about a filling and stores it, or asks back what cannot be right.
func (h *Handler) filled(ctx context.Context, r request, s notice.Situation) (chat.Answer, error) {
	ev, err := h.readFill(&r, s)
	if err != nil {
		return chat.Answer{}, err
	}
	if question, err := h.questionFill(ev, r.id); question.Message != nil || err != nil {
		return question, err
	}
	if f := s.Fill; f.By != "" && ev.At.Sub(f.At) < sameDay && !household.Completes(f, ev) {
		return withButtons(say(fmt.Sprintf("A filling was noted at %s already, by %s. Is this another one?", h.opt.Voice.Moment(f.At, ev.At), f.By)),
			fillButton(ev, r.id, "Yes, another one"), leaveButton("No, leave it")), nil
	}
	return h.fill(ctx, r, ev)
}

// readFill reads a filling from options.
func (h *Handler) readFill(r *request, s notice.Situation) (record.Event, error) {
	r.options = splitFilling(r.options)
	r.text = r.options["net"]
	ev := record.Event{Cylinder: s.Cylinder, At: r.at, Kind: record.Filled}
	var errs [4]error
	ev.By, errs[0] = h.payer(*r, "payer")
	ev.Net, errs[1] = h.amount(r.options, "net")
	ev.Tare, errs[2] = h.amount(r.options, "tare")
	ev.Price, errs[3] = h.price(r.options["price"], ev.At)
	return ev, errors.Join(errs[:]...)
}

// fill stores a filling and says what it comes to.
func (h *Handler) fill(ctx context.Context, r request, ev record.Event) (chat.Answer, error) {
	v := h.opt.Voice
	return h.notedAs(ctx, r, ev, func(s notice.Situation) chat.Answer {
		next, tare := "The next weight on the scale is compared with it.", ""
		switch {
		case s.Fill.Seen > 0 && s.Fill.Receipt > 0:
			next = v.Receipt(s.Fill.Seen, s.Fill.SeenSD, s.Fill.Receipt)
		case ev.Net == 0:
			next = "The next weight on the scale shows how much."
		}
		if ev.Tare > 0 {
			tare = "From now on the empty cylinder counts as " + v.Exact(ev.Tare) + "."
			ev.Tare = 0 // told apart
		}
		return say("Noted: "+h.filling(ev)+".", next, tare)
	})
}

// filling is one in a few words.
func (h *Handler) filling(ev record.Event) string {
	text := "filled"
	if ev.Net > 0 {
		text += " with " + h.opt.Voice.Exact(ev.Net)
	}
	if ev.Tare > 0 {
		text += ", tare " + h.opt.Voice.Exact(ev.Tare)
	}
	if ev.Price.Known() {
		text += " for " + ev.Price.String()
	}
	return text
}

// amount reads an option that is a mass; absent it is zero.
func (h *Handler) amount(typed map[string]string, option string) (unit.Grams, error) {
	text := strings.TrimSpace(typed[option])
	if text == "" {
		return 0, nil
	}
	if m, ok := entry.Mass(text, h.opt.Voice.System); ok {
		return m, nil
	}
	mend := "Write it like 9.07 kg or 20 lb."
	if option == "net" {
		mend = "Write it like 9.07 kg or 20 lb; what was paid goes into price."
	}
	return 0, &Problem{fmt.Sprintf("“%s” is not a weight for %s.", text, option), mend}
}

// Bounds within which a net fill and a tare pass without a question, as shares of what the config says. Suppliers
// fill less in the heat, never much more than the cylinder may hold; tares of a size differ by make.
const (
	leastNet, mostNet   = 0.3, 1.15
	leastTare, mostTare = 0.6, 1.6
	mostSize            = 10 // beyond it cannot be of this cylinder, nor of one that takes its place
)

// questionFill asks back a mass that cannot be this cylinder's, first of all whether it is in another unit. No message: no doubt.
func (h *Handler) questionFill(ev record.Event, id string) (chat.Answer, error) {
	cyl := h.cylinder(ev.Cylinder, ev.At)
	netOK := func(m unit.Grams) bool { return m == 0 || within(m, cyl.NetFill, leastNet, mostNet) }
	tareOK := func(m unit.Grams) bool { return m == 0 || within(m, cyl.Tare, leastTare, mostTare) }
	if netOK(ev.Net) && tareOK(ev.Tare) || cyl.NetFill <= 0 {
		return chat.Answer{}, nil
	}
	v := h.opt.Voice
	what, m, usual := "net", ev.Net, cyl.NetFill
	if netOK(ev.Net) {
		what, m, usual = "tare", ev.Tare, cyl.Tare
	}
	a := say(fmt.Sprintf("Is the %s really %s? For this cylinder it is about %s.", what, v.Exact(m), v.Exact(usual)))
	for _, x := range []struct {
		name   string
		factor unit.Grams
	}{{"pounds", unit.GramsPerPound / 1000}, {"kilograms", 1000 / unit.GramsPerPound}} {
		other := ev
		if !netOK(ev.Net) {
			other.Net *= x.factor
		}
		if !tareOK(ev.Tare) {
			other.Tare *= x.factor
		}
		if netOK(other.Net) && tareOK(other.Tare) {
			a = withButtons(say(fmt.Sprintf("The %s of %s looks like %s.", what, v.Exact(m), x.name),
				fmt.Sprintf("%s would be too much or too little for this cylinder, where it is about %s.", v.Exact(m), v.Exact(usual))),
				fillButton(other, id, fmt.Sprintf("It is in %s: %s", x.name, v.Exact(m*x.factor))))
		}
	}
	if within(m, usual, 0, mostSize) {
		a = withButtons(a, fillButton(ev, id, "It is "+v.Exact(m)))
	} else if len(a.Message.Buttons) == 0 {
		return chat.Answer{}, &Problem{fmt.Sprintf("The %s cannot be %s: for this cylinder it is about %s.", what, v.Exact(m), v.Exact(usual)), "Check the figure and its unit; nothing was noted."}
	}
	return withButtons(a, leaveButton("Leave it")), nil
}

func within(m, usual unit.Grams, least, most float64) bool {
	r := float64(m / usual)
	return r >= least && r <= most
}

// fillButton carries a whole filling.
func fillButton(ev record.Event, id, label string) chat.Button {
	return button("fill", fmt.Sprintf("%.0f:%.0f:%s:%s:%s", float64(ev.Net), float64(ev.Tare), priceArgument(ev.Price), id, ev.Cylinder), label)
}

// fillConfirmed stores the filling that a button carries.
func (h *Handler) fillConfirmed(ctx context.Context, r request) (chat.Answer, error) {
	arg := argument{rest: r.arg}
	ev := record.Event{Kind: record.Filled, At: r.at, Net: arg.grams(arg.next()), Tare: arg.grams(arg.next()), Price: arg.price(arg.next())}
	r.id, ev.Cylinder = arg.next(), arg.rest
	if arg.bad {
		return chat.Answer{}, errStale
	}
	return h.fill(ctx, r, ev)
}

// signs are what people write for the commonest currencies. A bare $ is the household's own dollar, if it has one.
var signs = map[string]string{"€": "EUR", "£": "GBP", "$": "USD", "¥": "JPY", "US$": "USD", "A$": "AUD", "C$": "CAD", "NZ$": "NZD"}

// price reads what was paid: 42, 42.50 EUR, EUR 42,50, €42. Without a currency it is the household's. Absent it is none.
func (h *Handler) price(text string, now time.Time) (unit.Money, error) {
	t := strings.TrimSpace(text)
	if t == "" {
		return unit.Money{}, nil
	}
	number := strings.TrimSpace(strings.Trim(t, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz€£$¥ "))
	code := strings.ToUpper(strings.TrimSpace(strings.Replace(t, number, "", 1)))
	own := h.currency(now)
	example := "Write it like 42.50 " + cmp.Or(own, "EUR") + "."
	switch sign := signs[code]; {
	case code == "", code == "$" && strings.HasSuffix(own, "D"):
		code = own
	case sign != "":
		code = sign
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
func (h *Handler) currency(now time.Time) string {
	if h.opt.Currency != "" {
		return h.opt.Currency
	}
	for _, f := range h.opt.House.Account(now).Fills {
		if code := f.Price.Code(); code != "" {
			return code
		}
	}
	return ""
}
