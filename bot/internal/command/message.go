package command

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
	"tarebell/sources/entry"
)

// A weight's key in the ledger is keyPrefix and the number of its message. One that replaces another ends in "~" and the number of that
// entry, so that taking it back brings the other one to life again.
const keyPrefix = "said/"

// key is the key of what a line says.
func key(l line) string {
	if l.instead != nil {
		return fmt.Sprintf("%s%s~%d", keyPrefix, l.id, l.instead.Seq)
	}
	return keyPrefix + l.id
}

// replacedSeq is the number of the entry that one with this key replaces, 0 for none.
func replacedSeq(key string) int64 {
	_, n, _ := strings.Cut(key, "~")
	seq, err := strconv.ParseInt(n, 10, 64)
	if err != nil {
		return 0
	}
	return seq
}

const (
	// looksBack is how many entries are searched for what somebody said before.
	looksBack = 200
	// soonAfter is how long after a weight its author may take it back in words: "no, 21.1".
	soonAfter = time.Hour
)

// lastWeightBy is the weight that the author of a line means when saying that it is wrong: their last one of this hour; nil for none.
func (h *Handler) lastWeightBy(ctx context.Context, l line) (*store.Entry, error) {
	return h.lastEntry(ctx, record.Weighed, func(e store.Entry) bool {
		return e.Account == l.by.ID && l.at.Sub(e.Received) < soonAfter && (l.cylinder == "" || l.cylinder == e.Cylinder)
	})
}

// weightOf is the weight that counts of a message; nil for none.
func (h *Handler) weightOf(ctx context.Context, message string) (*store.Entry, error) {
	return h.lastEntry(ctx, record.Weighed, func(e store.Entry) bool {
		base, _, _ := strings.Cut(e.Key, "~")
		return base == keyPrefix+message
	})
}

// lastEntry is the newest entry of a kind, "" for any, that counts and is meant; nil for none.
func (h *Handler) lastEntry(ctx context.Context, kind record.Kind, meant func(store.Entry) bool) (*store.Entry, error) {
	recent, err := h.opt.House.Recent(ctx, kind, looksBack)
	for i, e := range recent {
		if !e.Voided && meant(e) {
			return &recent[i], nil
		}
	}
	return nil, err
}

// readMessage takes what was typed, or what its author made of it later.
func (h *Handler) readMessage(ctx context.Context, r request, s chat.Said) (chat.Answer, error) {
	switch {
	case s.Deleted:
		return h.messageDeleted(ctx, s)
	case !s.Changed.IsZero():
		return h.messageEdited(ctx, r, s)
	}
	if id, ok := h.chosenButton(r); ok {
		do, r := press(id, request{id: r.id, at: r.at, by: r.by})
		return do(h, ctx, r)
	}
	return h.weigh(ctx, line{request: r})
}

// messageEdited reads a message again whose author changed it. What it said before is replaced or, if it is no weight any more, struck out.
func (h *Handler) messageEdited(ctx context.Context, r request, s chat.Said) (chat.Answer, error) {
	old, err := h.weightOf(ctx, s.ID)
	if err != nil {
		return chat.Answer{}, err
	}
	l := line{request: r, instead: old}
	if old == nil { // it held no weight, or one that was undone
		l.id = fmt.Sprintf("%s~edit.%d", s.ID, s.Changed.Unix())
		return h.weigh(ctx, l)
	}
	switch u := entry.Parse(s.Text, h.context(l)).(type) {
	case entry.Understood:
		w := h.weighing(u, s.At)
		if math.Abs(float64(w.Gross-old.Gross)) < 0.01 && w.Cylinder == old.Cylinder && sameTime(u.At, *old, s.At) {
			return chat.Answer{}, nil // a word beside it
		}
	case entry.NotAWeight, entry.Reported:
		return h.withdraw(ctx, *old, "edited", s.Changed)
	}
	return h.weigh(ctx, l)
}

// sameTime reports that a message read again says no other time than its entry has.
func sameTime(at time.Time, e store.Entry, said time.Time) bool {
	return at.Sub(e.At).Abs() < time.Minute || at.Equal(said.Truncate(time.Second)) && e.At.Sub(said).Abs() < time.Minute
}

// messageDeleted strikes out what a message said that is gone.
func (h *Handler) messageDeleted(ctx context.Context, s chat.Said) (chat.Answer, error) {
	old, err := h.weightOf(ctx, s.ID)
	if err != nil || old == nil {
		return chat.Answer{}, err
	}
	return h.withdraw(ctx, *old, "deleted", s.Changed)
}

// withdraw strikes a weight out because its message is gone, and offers to keep it.
func (h *Handler) withdraw(ctx context.Context, e store.Entry, how string, now time.Time) (chat.Answer, error) {
	if _, err := h.opt.House.Void(ctx, e.Seq); err != nil {
		return chat.Answer{}, err
	}
	return withButtons(say(fmt.Sprintf("Struck out, as its message was %s: %s.", how, h.describe(e, now))), button("again", fmt.Sprint(e.Seq), "Undo")), nil
}

// restore brings a weight back that was struck out.
func (h *Handler) restore(ctx context.Context, _ request, e store.Entry) (chat.Answer, error) {
	back, err := h.opt.House.Accept(ctx, copyOf(e))
	switch {
	case err != nil:
		return chat.Answer{}, err
	case back.Seq == 0:
		return say("It counts again already."), nil
	}
	return withButtons(say("It counts again: "+h.opt.Voice.Exact(e.Gross)+"."), undo(back, "Undo")), nil
}

// copyOf is an entry to be accepted once more.
func copyOf(e store.Entry) store.Entry {
	base, _, _ := strings.Cut(e.Key, "~")
	e.Key = fmt.Sprintf("%s~again.%d", base, e.Seq)
	e.Seq, e.Voided = 0, false
	return e
}
