package command

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit/record"
)

// memberOf is somebody by the name the household uses, if the config lists their account. Who only calls themselves like
// a member with another account is not taken for them.
func (h *Handler) memberOf(m chat.Member) chat.Member {
	taken := false
	for _, known := range h.opt.Members {
		switch {
		case known.ID == "" || m.ID == "":
		case known.ID == m.ID:
			m.Name = known.Name
			return m
		case strings.EqualFold(strings.TrimSpace(m.Name), known.Name):
			taken = true
		}
	}
	if taken {
		m.Name = fmt.Sprintf("%s (account %s)", m.Name, m.ID)
	}
	return m
}

// person is who an option means; without it whoever asks.
func (h *Handler) person(r request, option string) chat.Member {
	if m, ok := r.people[option]; ok && m.Name != r.options[option] {
		return h.memberOf(m)
	}
	name := strings.TrimSpace(r.options[option])
	if name == "" {
		return r.by
	}
	if i := slices.IndexFunc(h.opt.Members, func(m record.Member) bool { return strings.EqualFold(m.Name, name) }); i >= 0 {
		name = h.opt.Members[i].Name
	}
	return chat.Member{Name: name}
}

// payer is person, whom the account is to name. A name that was typed must be a member's, if the config lists them: a slip of
// the finger would owe something for ever.
func (h *Handler) payer(r request, option string) (string, error) {
	who := h.person(r, option)
	if who.ID != "" || who.Name == r.by.Name || len(h.opt.Members) == 0 || h.isMember(who.Name) {
		return who.Name, nil
	}
	var names []string
	for _, m := range h.opt.Members {
		names = append(names, m.Name)
	}
	return "", &Problem{who.Name + " is not among the members in the config.", "They are " + strings.Join(names, ", ") + "."}
}

func (h *Handler) isMember(name string) bool {
	return slices.ContainsFunc(h.opt.Members, func(m record.Member) bool { return m.Name == name })
}

func (h *Handler) made(ctx context.Context, r request) (chat.Answer, error) {
	n := 1.0
	if text := strings.TrimSpace(r.options["servings"]); text != "" {
		var err error
		if n, err = decimal(text); err != nil || !(n > 0 && n <= 200) {
			return chat.Answer{}, &Problem{fmt.Sprintf("“%s” is not a number of servings.", text), "Write a number from 1 to 200."}
		}
	}
	who, err := h.payer(r, "who")
	if err != nil {
		return chat.Answer{}, err
	}
	return h.notedAs(ctx, r, record.Event{Cylinder: r.cylinder, Kind: record.Made, Count: n, By: who}, func(notice.Situation) chat.Answer {
		return privately(say(fmt.Sprintf("Noted: %s for %s.", notice.Servings(n), who)))
	})
}

// longAway is how long nobody may draw without a question: a mistyped year stops every reminder. Longer than most holidays; common practice,
// no source.
const longAway = 90 * 24 * time.Hour

func (h *Handler) away(ctx context.Context, r request) (chat.Answer, error) {
	if r.options["who"] != "" {
		return h.memberAway(ctx, r)
	}
	until, day, err := h.readUntil(&r)
	if err != nil {
		return chat.Answer{}, err
	}
	reply := "Noted: you are back."
	switch {
	case until.After(r.at.Add(longAway)):
		return withButtons(say(fmt.Sprintf("Will nobody draw until %s? Until then I remind nobody.", day)),
			button("away", fmt.Sprintf("%d:%s", until.Unix(), r.cylinder), "Yes, until "+day), leaveButton("No, leave it")), nil
	case until.After(r.at):
		reply = fmt.Sprintf("Noted: nobody draws until %s. The forecast counts on it, and gas that leaves meanwhile is noticed sooner.", day)
	default:
		until = r.at
	}
	return h.noted(ctx, r, record.Event{Cylinder: r.cylinder, Kind: record.Away, Until: until}, reply)
}

// awayConfirmed stores an absence that was asked back.
func (h *Handler) awayConfirmed(ctx context.Context, r request) (chat.Answer, error) {
	arg := argument{rest: r.arg}
	until := time.Unix(arg.int(arg.next()), 0).In(h.opt.Voice.Zone)
	if arg.bad {
		return chat.Answer{}, errStale
	}
	_, err := h.storeEvent(ctx, r, record.Event{Kind: record.Away, Cylinder: arg.rest, Until: until})
	return say("Noted: nobody draws until " + h.opt.Voice.Day(until, r.at) + "."), err
}

// memberAway stores that one member is away.
func (h *Handler) memberAway(ctx context.Context, r request) (chat.Answer, error) {
	who := h.person(r, "who").Name
	if !h.isMember(who) {
		return chat.Answer{}, &Problem{who + " is not among the members in the config.", "List the members under household.members, or leave out who if nobody draws."}
	}
	until, day, err := h.readUntil(&r)
	if err != nil {
		return chat.Answer{}, err
	}
	reply := fmt.Sprintf("Noted: %s is back.", who)
	if until.After(r.at) {
		reply = fmt.Sprintf("Noted: %s is away until %s, and is left out of whose turn it is.", who, day)
	}
	return h.noted(ctx, r, record.Event{Kind: record.Absent, Until: until, By: who}, reply)
}

// readUntil reads the day until which somebody is away, and says it; “now” is the present.
func (h *Handler) readUntil(r *request) (until time.Time, day string, err error) {
	r.text = r.options["until"]
	if strings.EqualFold(strings.TrimSpace(r.text), "now") {
		return r.at, "", nil
	}
	noon, err := parseDay(r.text, r.at.In(h.opt.Voice.Zone))
	if err != nil {
		return until, "", err
	}
	y, m, d := noon.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, h.opt.Voice.Zone), h.opt.Voice.Day(noon, r.at), nil
}
