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

// A weight's key in the ledger is "said/" and the number of its message. One that replaces another ends in "~" and the number of that
// entry, so that taking it back brings the other one to life again.

// key is the key of what a line says.
func key(l line) string {
	if l.instead != nil {
		return fmt.Sprintf("said/%s~%d", l.id, l.instead.Seq)
	}
	return "said/" + l.id
}

// instead is the number of the entry that one with this key replaces, 0 for none.
func instead(key string) int64 {
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

// justNow is the weight that the author of a line means when saying that it is wrong: their last one of this hour; nil for none.
func (d *Desk) justNow(ctx context.Context, l line) (*store.Entry, error) {
	return d.find(ctx, func(e store.Entry) bool {
		return e.Account == l.by.ID && l.at.Sub(e.Received) < soonAfter && (l.cylinder == "" || l.cylinder == e.Cylinder)
	})
}

// of is the weight that counts of a message; nil for none.
func (d *Desk) of(ctx context.Context, message string) (*store.Entry, error) {
	return d.find(ctx, func(e store.Entry) bool {
		base, _, _ := strings.Cut(e.Key, "~")
		return base == "said/"+message
	})
}

// find is the newest weight that counts and is meant.
func (d *Desk) find(ctx context.Context, meant func(store.Entry) bool) (*store.Entry, error) {
	recent, err := d.opt.House.Recent(ctx, record.Weighed, looksBack)
	if err != nil {
		return nil, err
	}
	for i, e := range recent {
		if !e.Voided && meant(e) {
			return &recent[i], nil
		}
	}
	return nil, nil
}

// edited reads a message again whose author changed it. What it said before is replaced or, if it is no weight any more, struck out.
func (d *Desk) edited(ctx context.Context, s chat.Said) (chat.Answer, error) {
	old, err := d.of(ctx, s.ID)
	if err != nil {
		return chat.Answer{}, err
	}
	l := line{text: s.Text, id: s.ID, at: s.At, by: s.By, instead: old}
	if old == nil { // it held no weight, or one that was undone
		l.id = fmt.Sprintf("%s~edit.%d", s.ID, s.Changed.Unix())
		return d.weigh(ctx, l)
	}
	switch r := entry.Parse(s.Text, d.context(l)).(type) {
	case entry.Understood:
		cyl := d.cylinder(r.Cylinder, s.At)
		gross := r.Gross
		if r.Net {
			gross += cyl.Empty()
		}
		if math.Abs(float64(gross-old.Gross)) < 0.01 && cyl.Name == old.Cylinder && d.sameTime(r.At, *old, s.At) {
			return chat.Answer{}, nil // a word beside it
		}
	case entry.NotAWeight, entry.Reported:
		return d.withdraw(ctx, *old, "edited", s.Changed)
	}
	return d.weigh(ctx, l)
}

// sameTime reports that a message read again says no other time than its entry has.
func (d *Desk) sameTime(at time.Time, e store.Entry, said time.Time) bool {
	return at.Sub(e.At).Abs() < time.Minute || at.Equal(said.Truncate(time.Second)) && e.At.Sub(said).Abs() < time.Minute
}

// deleted strikes out what a message said that is gone.
func (d *Desk) deleted(ctx context.Context, s chat.Said) (chat.Answer, error) {
	old, err := d.of(ctx, s.ID)
	if err != nil || old == nil {
		return chat.Answer{}, err
	}
	return d.withdraw(ctx, *old, "deleted", s.Changed)
}

// withdraw strikes a weight out because its message is gone, and offers to keep it.
func (d *Desk) withdraw(ctx context.Context, e store.Entry, how string, now time.Time) (chat.Answer, error) {
	if _, err := d.opt.House.Void(ctx, e.Seq); err != nil {
		return chat.Answer{}, err
	}
	a := say(fmt.Sprintf("Struck out, as its message was %s: %s.", how, d.describe(e, now)))
	a.Message.Buttons = []chat.Button{{ID: fmt.Sprintf("again:%d", e.Seq), Label: "Undo"}}
	return a, nil
}

// again brings a weight back that was struck out.
func (d *Desk) again(ctx context.Context, p chat.Press, arg string) (chat.Answer, error) {
	seq, err := strconv.ParseInt(arg, 10, 64)
	if err != nil {
		return chat.Answer{}, stale()
	}
	e, err := d.opt.House.Entry(ctx, seq)
	if err != nil {
		return chat.Answer{}, err
	}
	back, err := d.opt.House.Accept(ctx, copyOf(e))
	switch {
	case err != nil:
		return chat.Answer{}, err
	case back.Seq == 0:
		return say("It counts again already."), nil
	}
	a := say("It counts again: " + d.opt.Voice.Exact(e.Gross) + ".")
	a.Message.Buttons = undo(back)
	return replaced(a, nil)
}

// copyOf is an entry to be accepted once more.
func copyOf(e store.Entry) store.Entry {
	base, _, _ := strings.Cut(e.Key, "~")
	e.Key = fmt.Sprintf("%s~again.%d", base, e.Seq)
	e.Seq, e.Voided = 0, false
	return e
}
