package command

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// undo is the button that strikes an entry out again.
func undo(e store.Entry, label string) chat.Button { return button("undo", fmt.Sprint(e.Seq), label) }

// undoLast strikes out the newest thing that the caller entered.
func (h *Handler) undoLast(ctx context.Context, r request) (chat.Answer, error) {
	e, err := h.lastEntry(ctx, "", func(e store.Entry) bool { return e.Account == r.by.ID })
	switch {
	case err != nil:
		return chat.Answer{}, err
	case e == nil:
		return chat.Answer{}, &Problem{"There is nothing of yours to undo.", "/entries lists what was entered lately."}
	}
	return h.voidEntry(ctx, r, *e)
}

// withEntry is an action on the entry whose number its button carries.
func withEntry(do func(h *Handler, ctx context.Context, r request, e store.Entry) (chat.Answer, error)) action {
	return func(h *Handler, ctx context.Context, r request) (chat.Answer, error) {
		seq, err := strconv.ParseInt(r.arg, 10, 64)
		if err != nil {
			return chat.Answer{}, errStale
		}
		e, err := h.opt.House.Entry(ctx, seq)
		if err != nil {
			return chat.Answer{}, err
		}
		return do(h, ctx, r, e)
	}
}

// voidEntry voids an entry and says so.
func (h *Handler) voidEntry(ctx context.Context, r request, e store.Entry) (chat.Answer, error) {
	before := ""
	if first := replacedSeq(e.Key); first > 0 {
		old, err := h.opt.House.Entry(ctx, first)
		if err != nil {
			return chat.Answer{}, err
		}
		before = " " + h.opt.Voice.Exact(old.Gross) + " counts again."
		if _, err = h.opt.House.Replace(ctx, e.Seq, copyOf(old)); err != nil {
			return chat.Answer{}, err
		}
	} else if _, err := h.opt.House.Void(ctx, e.Seq); err != nil {
		return chat.Answer{}, err
	}
	s, err := h.situation(e.Cylinder, r.at)
	if err != nil {
		return chat.Answer{}, err
	}
	return say("Undone: "+h.describe(e, r.at)+"."+before, h.opt.Voice.GasLeft(s)), nil
}

// describe is an entry in a few words.
func (h *Handler) describe(e store.Entry, now time.Time) string {
	what := h.eventText(e.Event, now)
	if e.By != "" {
		what += " by " + e.By
	}
	return what + ", " + h.opt.Voice.Moment(e.At, now)
}

// eventText is an event in a few words.
func (h *Handler) eventText(ev record.Event, now time.Time) string {
	v := h.opt.Voice
	switch ev.Kind {
	case record.Weighed:
		return v.Exact(ev.Gross)
	case record.Filled:
		return h.filling(ev)
	case record.Made:
		return notice.Servings(ev.Count)
	case record.Away, record.Absent:
		if !ev.Until.After(ev.At) {
			return "back again"
		}
		return "away until " + v.Day(ev.Until, now)
	case record.Booked:
		return "booked for " + v.Day(ev.Day, now)
	case record.Unbooked:
		return "refill not booked"
	case record.Mine:
		return "the refill taken on"
	case record.Later:
		return "to be reminded later"
	case record.Calibrated:
		return "scale checked"
	case record.CheckLater:
		return "to be reminded of the scale later"
	case record.Answer:
		return "answered “" + causeText(ev.Cause) + "”"
	case record.Afresh:
		return "begun anew with " + v.Exact(ev.Gross)
	case record.InUse:
		return "cylinder " + ev.Cylinder + " in use"
	case record.Serving:
		return "a serving is " + v.Fine(ev.CO2)
	case record.Valve:
		return "valve " + ev.Value()
	}
	return strings.ReplaceAll(string(ev.Kind), "-", " ")
}
