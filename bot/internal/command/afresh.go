package command

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

// afreshCall begins anew with a weight that is typed.
func (d *Desk) afreshCall(ctx context.Context, c chat.Call) (chat.Answer, error) {
	name := c.Options["cylinder"]
	u, ok := entry.Parse(c.Options["weight"], d.context(line{at: c.At, cylinder: name, asked: true})).(entry.Understood)
	if !ok {
		return chat.Answer{}, &Problem{fmt.Sprintf("“%s” is not a weight that leaves no doubt.", c.Options["weight"]), "Write it with its unit, for example 24.6 kg."}
	}
	cyl := d.cylinder(u.Cylinder, c.At)
	if u.Net {
		u.Gross += cyl.Empty()
	}
	return d.afresh(ctx, called(c), record.Event{Cylinder: cyl.Name, Kind: record.Afresh, Gross: u.Gross})
}

// afreshPressed is the button under a weight that was not believed.
func (d *Desk) afreshPressed(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	mass, cylinder, _ := strings.Cut(arg, ":")
	g, err := strconv.ParseFloat(mass, 64)
	if err != nil || !(g > 0) {
		return chat.Answer{}, stale()
	}
	return replaced(d.afresh(ctx, pressed(p), record.Event{Cylinder: cylinder, Kind: record.Afresh, Gross: unit.Grams(g)}))
}

func (d *Desk) afresh(ctx context.Context, x deed, ev record.Event) (chat.Answer, error) {
	e, err := d.tell(ctx, x, ev)
	if err != nil {
		return chat.Answer{}, err
	}
	s, err := d.situation(e.Cylinder, x.at)
	if err != nil {
		return chat.Answer{}, err
	}
	a := say("Noted: "+d.opt.Voice.Exact(ev.Gross)+" counts, and what was believed before is dropped. "+d.opt.Voice.Lasts(s), "Your use stays as a guess until the next weights.")
	a.Message.Buttons = undo(e)
	return a, nil
}
