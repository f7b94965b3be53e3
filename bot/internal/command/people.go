package command

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit/record"
)

func (d *Desk) made(ctx context.Context, c chat.Call) (chat.Answer, error) {
	n := 1.0
	if text := strings.TrimSpace(c.Options["servings"]); text != "" {
		var err error
		if n, err = strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64); err != nil || !(n > 0 && n <= 200) {
			return chat.Answer{}, &Problem{fmt.Sprintf("“%s” is not a number of servings.", text), "Write a number from 1 to 200."}
		}
	}
	who, err := d.known(c, "who")
	if err != nil {
		return chat.Answer{}, err
	}
	a, err := d.noted(ctx, called(c), record.Event{Cylinder: c.Options["cylinder"], Kind: record.Made, Count: n, By: who.Name},
		fmt.Sprintf("Noted: %s for %s.", servings(n), who.Name))
	if err == nil {
		a.Message.Private = true
	}
	return a, err
}

// known is who an option of a call means. A name that was typed must be a member's, if the config lists them: a slip of
// the finger would owe something for ever.
func (d *Desk) known(c chat.Call, option string) (chat.Member, error) {
	who := d.person(c, option)
	if who.ID != "" || who.Name == c.By.Name || len(d.opt.Members) == 0 || d.member(who.Name) {
		return who, nil
	}
	names := make([]string, len(d.opt.Members))
	for i, m := range d.opt.Members {
		names[i] = m.Name
	}
	return who, &Problem{fmt.Sprintf("%s is not among the members in the config.", who.Name), "They are " + strings.Join(names, ", ") + "."}
}

func (d *Desk) member(name string) bool {
	return slices.ContainsFunc(d.opt.Members, func(m record.Member) bool { return m.Name == name })
}

func servings(n float64) string {
	if n == 1 {
		return "1 serving"
	}
	return fmt.Sprintf("%g servings", n)
}

func (d *Desk) away(ctx context.Context, c chat.Call) (chat.Answer, error) {
	if c.Options["who"] != "" {
		return d.absent(ctx, c)
	}
	until, day, err := d.until(c)
	if err != nil {
		return chat.Answer{}, err
	}
	cylinder, reply := c.Options["cylinder"], "Noted: you are back."
	switch {
	case until.After(c.At.Add(longAway)):
		return d.doubtAway(until, cylinder, c), nil
	case until.After(c.At):
		reply = fmt.Sprintf("Noted: nobody draws until %s. The forecast counts on it, and gas that leaves meanwhile is noticed sooner.", d.opt.Voice.Day(day, c.At))
	default:
		until = c.At
	}
	return d.noted(ctx, typed(c, "until"), record.Event{Cylinder: cylinder, Kind: record.Away, Until: until}, reply)
}

// until reads the day until which somebody is away; “now” is the present.
func (d *Desk) until(c chat.Call) (until, day time.Time, err error) {
	text := c.Options["until"]
	if strings.EqualFold(strings.TrimSpace(text), "now") {
		return c.At, c.At, nil
	}
	if day, err = parseDay(text, c.At.In(d.opt.Voice.Zone)); err != nil {
		return until, day, err
	}
	y, m, dd := day.In(d.opt.Voice.Zone).Date()
	return time.Date(y, m, dd, 0, 0, 0, 0, d.opt.Voice.Zone), day, nil
}

// absent stores that one member is away.
func (d *Desk) absent(ctx context.Context, c chat.Call) (chat.Answer, error) {
	who := d.person(c, "who")
	if !d.member(who.Name) {
		return chat.Answer{}, &Problem{fmt.Sprintf("%s is not among the members in the config.", who.Name),
			"List the members under household.members, or leave out who if nobody draws."}
	}
	until, day, err := d.until(c)
	if err != nil {
		return chat.Answer{}, err
	}
	reply := fmt.Sprintf("Noted: %s is back.", who.Name)
	if until.After(c.At) {
		reply = fmt.Sprintf("Noted: %s is away until %s, and is left out of whose turn it is.", who.Name, d.opt.Voice.Day(day, c.At))
	}
	return d.noted(ctx, typed(c, "until"), record.Event{Kind: record.Absent, Until: until, By: who.Name}, reply)
}

// use changes over to another cylinder.
func (d *Desk) use(ctx context.Context, c chat.Call) (chat.Answer, error) {
	name, instead := strings.TrimSpace(c.Options["name"]), strings.TrimSpace(c.Options["instead"])
	s, err := d.situation(name, c.At)
	if err != nil {
		return chat.Answer{}, err
	}
	if name == "" || !s.Spare {
		return chat.Answer{}, &Problem{fmt.Sprintf("Cylinder %s is in use already.", s.Cylinder), "Name one that waits, as the config says with spare: true."}
	}
	old, err := d.situation(instead, c.At)
	if err != nil {
		return chat.Answer{}, err
	}
	if old.Spare {
		return chat.Answer{}, &Problem{fmt.Sprintf("Cylinder %s is not in use, so none can take its place.", old.Cylinder), "Name one that is, or leave it out."}
	}
	return d.noted(ctx, called(c), record.Event{Cylinder: name, Kind: record.InUse, Instead: old.Cylinder},
		fmt.Sprintf("Noted: cylinder %s is in use, %s waits for its refill.", name, old.Cylinder),
		fmt.Sprintf("When %s comes back full, say /filled cylinder:%s.", old.Cylinder, old.Cylinder),
		"Valve of the old one shut, cap on; the new one strapped before its cap comes off. Soapy water on the fitting shows a leak.")
}
