package command

import (
	"context"
	"fmt"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

func (h *Handler) gas(_ context.Context, _ request, s notice.Situation) (chat.Answer, error) {
	return say(h.opt.Voice.GasLeft(s), h.opt.Voice.Reasons(s)...), nil
}

func (h *Handler) chart(_ context.Context, _ request, s notice.Situation) (chat.Answer, error) {
	a := say(h.opt.Voice.GasLeft(s))
	if !s.Outlook.Known {
		return a, nil
	}
	png, err := h.opt.Draw(s)
	if err != nil {
		return chat.Answer{}, err
	}
	a.Message.Files = []chat.File{{Name: "cylinder.png", Type: "image/png", Data: png, Alt: h.opt.Voice.GasLeft(s)}}
	if png, err = h.opt.DrawUse(s); err == nil && png != nil {
		a.Message.Files = append(a.Message.Files, chat.File{Name: "weeks.png", Type: "image/png", Data: png, Alt: "Gas used per week. " + h.opt.Voice.Weekly(s)})
	}
	return a, err
}

func (h *Handler) cost(_ context.Context, r request) (chat.Answer, error) {
	head, body := h.opt.Voice.Cost(h.opt.House.Account(r.at))
	return say(head, body...), nil
}

func (h *Handler) history(_ context.Context, r request, _ notice.Situation) (chat.Answer, error) {
	head, body := h.opt.Voice.History(h.opt.House.Account(r.at), r.cylinder)
	return say(head, body...), nil
}

// Of the entries, how many are listed, and how many have a button.
const entriesListed, entriesUndone = 10, 5

func (h *Handler) entries(ctx context.Context, r request) (chat.Answer, error) {
	recent, err := h.opt.House.Recent(ctx, "", looksBack)
	if err != nil {
		return chat.Answer{}, err
	}
	a := privately(say("Entered lately, newest first:"))
	m := a.Message
	for _, e := range recent {
		if e.Origin == record.Scale {
			continue
		}
		if !e.Voided && len(m.Buttons) < entriesUndone {
			m.Buttons = append(m.Buttons, undo(e, fmt.Sprintf("Undo %d", e.Seq)))
		}
		if len(m.Body) == entriesListed {
			continue
		}
		line := fmt.Sprintf("%d: %s", e.Seq, h.describe(e, r.at))
		if e.Voided {
			line += " (undone)"
		}
		m.Body = append(m.Body, line)
	}
	if len(m.Body) == 0 {
		return say("Nobody has entered anything yet."), nil
	}
	return a, nil
}

// help lists the commands and the cautions.
func (h *Handler) help(_ context.Context, r request) (chat.Answer, error) {
	var lines []string
	if h.opt.FreeText {
		lines = append(lines, "Type what the scale says, for example “"+entry.Example(h.context(line{request: r, asked: true}))+"”, and it is noted. Or:")
	}
	for _, c := range h.Specs() {
		lines = append(lines, "/"+c.Name+" – "+c.Summary)
	}
	return privately(say("I watch the gas for you: how much is left, when to book the refill, and whether any leaks away.", append(lines, Cautions...)...)), nil
}

// Cautions are the usual ones for a high-pressure CO2 cylinder in a room. Common practice, no source; local
// codes come first.
var Cautions = []string{
	"Staying safe: CO2 has no smell, is heavier than air and suffocates. A CO2 alarm low down near the cylinder is the safety device; this bot is not, a scale cannot see the air.",
	"Keep the cylinder upright and strapped to the wall, the valve shut when not in use. Never heat it, never leave it in a closed or hot car. Lift it with two people or a hand truck: one that falls and shears its valve flies like a rocket.",
	"Filling, fittings and regulators are for the supplier and licensed people; local codes come first.",
}
