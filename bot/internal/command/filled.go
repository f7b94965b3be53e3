package command

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"regexp"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

func (d *Desk) filled(ctx context.Context, c chat.Call) (chat.Answer, error) {
	c.Options = inOneGo(c.Options)
	payer, err := d.known(c, "payer")
	if err != nil {
		return chat.Answer{}, err
	}
	return d.fillTyped(ctx, called(c), record.Event{Cylinder: c.Options["cylinder"], At: c.At, Kind: record.Filled, By: payer.Name}, c.Options)
}

var sums = regexp.MustCompile(`[€£$¥]?\d+(?:[.,]\d+)? ?(?:[A-Za-z]+|[€£$¥])?`)

// inOneGo parts a filling that was told in one breath, "9.8 kg 45 EUR 14.2 kg Bo": gas, price, tare and who paid, each as far as it is there.
func inOneGo(typed map[string]string) map[string]string {
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

// person is who an option of a call means; without it the caller.
func (d *Desk) person(c chat.Call, option string) chat.Member {
	if m, ok := c.People[option]; ok && m.Name != c.Options[option] {
		return d.called(m)
	}
	if name := strings.TrimSpace(c.Options[option]); name != "" {
		for _, known := range d.opt.Members {
			if strings.EqualFold(known.Name, name) {
				name = known.Name
			}
		}
		return chat.Member{Name: name}
	}
	return c.By
}

// hereForm asks what came, then stores it.
func (d *Desk) hereForm(ctx context.Context, p chat.Press, cylinder string) (chat.Answer, error) {
	if p.Fields == nil {
		return chat.Answer{Form: &chat.Form{ID: p.Button, Title: "The refill is here", Fields: []chat.Field{
			{Name: "net", Label: "Gas on the receipt, if it says", Example: d.opt.Voice.Exact(9070)},
			{Name: "price", Label: "What was paid", Example: "42.50 EUR"},
			{Name: "tare", Label: "Stamped tare, if it is another cylinder", Example: d.opt.Voice.Exact(14300)}}}}, nil
	}
	return d.fillTyped(ctx, pressed(p), record.Event{Cylinder: cylinder, At: p.At, Kind: record.Filled}, p.Fields)
}

// fillTyped reads what was typed about a filling and stores it, or asks back what cannot be right.
func (d *Desk) fillTyped(ctx context.Context, x deed, ev record.Event, typed map[string]string) (chat.Answer, error) {
	s, err := d.situation(ev.Cylinder, ev.At)
	if err != nil {
		return chat.Answer{}, err
	}
	ev.Cylinder = s.Cylinder
	if ev.Net, err = d.amount(typed, "net"); err != nil {
		return chat.Answer{}, err
	}
	if ev.Tare, err = d.amount(typed, "tare"); err != nil {
		return chat.Answer{}, err
	}
	if ev.Price, err = d.price(typed["price"], ev.At); err != nil {
		return chat.Answer{}, err
	}
	if q, err := d.doubtFill(ev, x.id); q != nil || err != nil {
		return *cmp.Or(q, &chat.Answer{}), err
	}
	if f := s.Fill; f.By != "" && ev.At.Sub(f.At) < sameDay && !household.Completes(f, ev) {
		a := say(fmt.Sprintf("A filling was noted at %s already, by %s. Is this another one?", d.opt.Voice.Moment(f.At, ev.At), f.By))
		a.Message.Buttons = []chat.Button{{ID: fillID(ev, x.id), Label: "Yes, another one"}, {ID: "leave:", Label: "No, leave it"}}
		return a, nil
	}
	x.text = typed["net"]
	return d.fill(ctx, x, ev)
}

// fill stores a filling and says what it comes to.
func (d *Desk) fill(ctx context.Context, x deed, ev record.Event) (chat.Answer, error) {
	e, err := d.tell(ctx, x, ev)
	if err != nil {
		return chat.Answer{}, err
	}
	if e.Seq == 0 {
		return say("That filling is noted already."), nil
	}
	s, err := d.situation(ev.Cylinder, ev.At)
	if err != nil {
		return chat.Answer{}, err
	}
	v := d.opt.Voice
	head := "Noted: filled"
	if ev.Net > 0 {
		head += " with " + v.Exact(ev.Net)
	}
	if ev.Price.Known() {
		head += " for " + ev.Price.String()
	}
	next := "The next weight on the scale is compared with it."
	if ev.Net == 0 {
		next = "The next weight on the scale shows how much."
	}
	if s.Fill.Seen > 0 && s.Fill.Receipt > 0 {
		next = v.Receipt(s.Fill.Seen, s.Fill.SeenSD, s.Fill.Receipt)
	}
	tare := ""
	if ev.Tare > 0 {
		tare = "From now on the empty cylinder counts as " + v.Exact(ev.Tare) + "."
	}
	a := say(head+".", next, tare)
	a.Message.Buttons = undo(e)
	return a, nil
}

// amount reads an option that is a mass; absent it is zero.
func (d *Desk) amount(typed map[string]string, option string) (unit.Grams, error) {
	text := strings.TrimSpace(typed[option])
	if text == "" {
		return 0, nil
	}
	if m, ok := entry.Mass(text, d.opt.Voice.System); ok {
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

// doubtFill asks back a mass that cannot be this cylinder's, first of all whether it is in another unit. nil: no doubt.
func (d *Desk) doubtFill(ev record.Event, id string) (*chat.Answer, error) {
	cyl := d.cylinder(ev.Cylinder, ev.At)
	netOK := ev.Net == 0 || within(ev.Net, cyl.NetFill, leastNet, mostNet)
	tareOK := ev.Tare == 0 || within(ev.Tare, cyl.Tare, leastTare, mostTare)
	if netOK && tareOK || cyl.NetFill <= 0 {
		return nil, nil
	}
	v := d.opt.Voice
	what, m, usual := "net", ev.Net, cyl.NetFill
	if netOK {
		what, m, usual = "tare", ev.Tare, cyl.Tare
	}
	a := say(fmt.Sprintf("Is the %s really %s? For this cylinder it is about %s.", what, v.Exact(m), v.Exact(usual)))
	for _, x := range []struct {
		name   string
		factor unit.Grams
	}{{"pounds", unit.GramsPerPound / 1000}, {"kilograms", 1000 / unit.GramsPerPound}} {
		other := ev
		if !netOK {
			other.Net *= x.factor
		}
		if !tareOK {
			other.Tare *= x.factor
		}
		if (other.Net == 0 || within(other.Net, cyl.NetFill, leastNet, mostNet)) && (other.Tare == 0 || within(other.Tare, cyl.Tare, leastTare, mostTare)) {
			a = say(fmt.Sprintf("The %s of %s looks like %s.", what, v.Exact(m), x.name),
				fmt.Sprintf("%s would be too much or too little for this cylinder, where it is about %s.", v.Exact(m), v.Exact(usual)))
			a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: fillID(other, id), Label: fmt.Sprintf("It is in %s: %s", x.name, v.Exact(m*x.factor))})
		}
	}
	if !within(m, usual, 0, mostSize) {
		if len(a.Message.Buttons) == 0 {
			return nil, &Problem{fmt.Sprintf("The %s cannot be %s: for this cylinder it is about %s.", what, v.Exact(m), v.Exact(usual)), "Check the figure and its unit; nothing was noted."}
		}
	} else {
		a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: fillID(ev, id), Label: "It is " + v.Exact(m)})
	}
	a.Message.Buttons = append(a.Message.Buttons, chat.Button{ID: "leave:", Label: "Leave it"})
	return &a, nil
}

func within(m, usual unit.Grams, least, most float64) bool {
	r := float64(m / usual)
	return r >= least && r <= most
}

// fillID carries a whole filling in a button.
func fillID(ev record.Event, id string) string {
	price := ""
	if ev.Price.Known() {
		price = fmt.Sprintf("%d%s", ev.Price.Minor(), ev.Price.Code())
	}
	return fmt.Sprintf("fill:%.0f:%.0f:%s:%s:%s", float64(ev.Net), float64(ev.Tare), price, id, ev.Cylinder)
}

// fillPressed stores the filling that a button carries.
func (d *Desk) fillPressed(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	part := strings.SplitN(arg, ":", 5)
	if len(part) != 5 {
		return chat.Answer{}, stale()
	}
	net, err1 := strconv.ParseFloat(part[0], 64)
	tare, err2 := strconv.ParseFloat(part[1], 64)
	ev := record.Event{Kind: record.Filled, At: p.At, Cylinder: part[4], Net: unit.Grams(net), Tare: unit.Grams(tare)}
	if n := len(part[2]); n > 3 {
		minor, err := strconv.ParseInt(part[2][:n-3], 10, 64)
		if err != nil {
			return chat.Answer{}, stale()
		}
		if ev.Price, err = unit.NewMoney(minor, part[2][n-3:]); err != nil {
			return chat.Answer{}, stale()
		}
	}
	if err1 != nil || err2 != nil {
		return chat.Answer{}, stale()
	}
	return replaced(d.fill(ctx, deed{id: part[3], at: p.At, by: p.By}, ev))
}
