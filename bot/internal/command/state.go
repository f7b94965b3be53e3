package command

import (
	"context"
	"fmt"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit/record"
)

// ranDry stores that a cylinder ran dry.
func (h *Handler) ranDry(ctx context.Context, r request) (chat.Answer, error) {
	return h.noted(ctx, r, record.Event{Cylinder: r.cylinder, Kind: record.RanDry}, "Noted: it ran dry.",
		"That is the best calibration there is: from here on the empty weight is known.", "Say /filled when the refill is there.")
}

// dryConfirmed stores that a cylinder ran dry, as was asked.
func (h *Handler) dryConfirmed(ctx context.Context, r request) (chat.Answer, error) {
	arg := argument{rest: r.arg}
	r.id, r.cylinder = arg.next(), arg.rest
	if arg.bad {
		return chat.Answer{}, errStale
	}
	return h.ranDry(ctx, r)
}

func (h *Handler) valve(ctx context.Context, r request) (chat.Answer, error) {
	ev := record.Event{Cylinder: r.cylinder, Kind: record.Valve}
	switch strings.ToLower(strings.TrimSpace(r.options["state"])) {
	case "open":
		ev.Open = true
		return h.noted(ctx, r, ev, "Noted: the cylinder valve is open.")
	case "closed", "shut":
		return h.noted(ctx, r, ev, "Noted: the cylinder valve is shut.")
	}
	return chat.Answer{}, &Problem{fmt.Sprintf("“%s” is not a state of a valve.", r.options["state"]), "Say /valve open or /valve shut."}
}

// use changes over to another cylinder.
func (h *Handler) use(ctx context.Context, r request) (chat.Answer, error) {
	name, instead := strings.TrimSpace(r.options["name"]), strings.TrimSpace(r.options["instead"])
	s, err := h.situation(name, r.at)
	if err != nil {
		return chat.Answer{}, err
	}
	if name == "" || !s.Spare {
		return chat.Answer{}, &Problem{fmt.Sprintf("Cylinder %s is in use already.", s.Cylinder), "Name one that waits, as the config says with spare: true."}
	}
	old, err := h.situation(instead, r.at)
	if err != nil {
		return chat.Answer{}, err
	}
	if old.Spare {
		return chat.Answer{}, &Problem{fmt.Sprintf("Cylinder %s is not in use, so none can take its place.", old.Cylinder), "Name one that is, or leave it out."}
	}
	return h.noted(ctx, r, record.Event{Cylinder: name, Kind: record.InUse, Instead: old.Cylinder},
		fmt.Sprintf("Noted: cylinder %s is in use, %s waits for its refill.", name, old.Cylinder),
		fmt.Sprintf("When %s comes back full, say /filled cylinder:%s.", old.Cylinder, old.Cylinder),
		"Valve of the old one shut, cap on; the new one strapped before its cap comes off. Soapy water on the fitting shows a leak.")
}

// causes are what the buttons under an alert mean: what is answered, and how the answer is told again.
var causes = map[string]struct {
	cause        record.Cause
	reply, again string
}{
	"used":  {record.Used, "Thank you, %s: it counts as use, and I'll be slower to worry about such amounts.", "that was us"},
	"shut":  {record.Repaired, "Thank you, %s. It counts as lost, not as use. Air the room well before anyone stays in it.", "a valve was open, it is shut"},
	"leak":  {record.Lost, "Thank you, %s. Until it is mended: valve shut when nobody carbonates, and air the room. I'll say when the loss ends.", "it leaks"},
	"moved": {record.Moved, "Thank you, %s: the gas figures leave the step out.", "the scale was moved"},
}

// causeText is an answer told again.
func causeText(cause record.Cause) string {
	for _, c := range causes {
		if c.cause == cause {
			return c.again
		}
	}
	return ""
}

// causeAnswered takes the household's word for what a loss or a step was. Of two people the first one counts.
func (h *Handler) causeAnswered(ctx context.Context, r request) (chat.Answer, error) {
	arg := argument{rest: r.arg}
	c, known := causes[arg.next()]
	if !known {
		return chat.Answer{}, errStale
	}
	ev := record.Event{Kind: record.Answer, Cylinder: arg.rest, Cause: c.cause}
	if about := arg.int(arg.next()); !arg.bad {
		ev.About, ev.Cylinder = time.Unix(about, 0).UTC(), arg.rest
	}
	if first, ok := h.answeredBefore(ev, r.at); ok {
		return say(fmt.Sprintf("%s was first and said: %s.", first.By, causeText(first.Cause)), "If that is wrong, /entries can undo it."), nil
	}
	_, err := h.storeEvent(ctx, r, ev)
	return say(fmt.Sprintf(c.reply, r.by.Name)), err
}

// answeredBefore finds who answered the same thing already. The same person may add that what leaked is mended.
func (h *Handler) answeredBefore(ev record.Event, now time.Time) (record.Event, bool) {
	s, ok := h.opt.House.Situation(ev.Cylinder, now)
	if !ok || ev.About.IsZero() {
		return record.Event{}, false
	}
	for i := len(s.Answers) - 1; i >= 0; i-- {
		a := s.Answers[i]
		if a.About.Equal(ev.About) {
			mended := a.Cause == record.Lost && ev.Cause != record.Lost
			return a, !mended
		}
	}
	return record.Event{}, false
}
