package command

import (
	"context"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit/record"
)

// undoLast strikes out the newest thing that the caller entered.
func (d *Desk) undoLast(ctx context.Context, c chat.Call) (chat.Answer, error) {
	recent, err := d.opt.House.Recent(ctx, "", 50)
	if err != nil {
		return chat.Answer{}, err
	}
	for _, e := range recent {
		if e.Account == c.By.ID && !e.Voided {
			return d.strike(ctx, e.Seq, c.At)
		}
	}
	return chat.Answer{}, &Problem{"There is nothing of yours to undo.", "/entries lists what was entered lately."}
}

// strike voids an entry and says so.
func (d *Desk) strike(ctx context.Context, seq int64, now time.Time) (chat.Answer, error) {
	e, err := d.opt.House.Entry(ctx, seq)
	if err != nil {
		return chat.Answer{}, err
	}
	before := ""
	if first := instead(e.Key); first > 0 {
		old, err := d.opt.House.Entry(ctx, first)
		if err != nil {
			return chat.Answer{}, err
		}
		before = " " + d.opt.Voice.Exact(old.Gross) + " counts again."
		_, err = d.opt.House.Replace(ctx, seq, copyOf(old))
		if err != nil {
			return chat.Answer{}, err
		}
	} else if _, err := d.opt.House.Void(ctx, seq); err != nil {
		return chat.Answer{}, err
	}
	s, err := d.situation(e.Cylinder, now)
	if err != nil {
		return chat.Answer{}, err
	}
	return say("Undone: "+d.describe(e, now)+"."+before, d.opt.Voice.Lasts(s)), nil
}

// describe is an entry in a few words.
func (d *Desk) describe(e store.Entry, now time.Time) string {
	what := d.told(e.Event, now)
	if e.By != "" {
		what += " by " + e.By
	}
	return what + ", " + d.opt.Voice.Moment(e.At, now)
}

// deeds are the events that need no more than a word.
var deeds = map[record.Kind]string{
	record.Unbooked: "refill not booked", record.Mine: "the refill taken on", record.Later: "to be reminded later",
	record.Calibrated: "scale checked", record.CheckLater: "to be reminded of the scale later",
}

// told is an event in a few words.
func (d *Desk) told(ev record.Event, now time.Time) string {
	what := strings.ReplaceAll(string(ev.Kind), "-", " ")
	if words, ok := deeds[ev.Kind]; ok {
		what = words
	}
	v := d.opt.Voice
	switch ev.Kind {
	case record.Weighed:
		what = v.Exact(ev.Gross)
	case record.Filled:
		if ev.Net > 0 {
			what += " with " + v.Exact(ev.Net)
		}
		if ev.Tare > 0 {
			what += ", tare " + v.Exact(ev.Tare)
		}
		if ev.Price.Known() {
			what += " for " + ev.Price.String()
		}
	case record.Made:
		what = servings(ev.Count)
	case record.Away, record.Absent:
		what = "away until " + v.Day(ev.Until, now)
		if !ev.Until.After(ev.At) {
			what = "back again"
		}
	case record.Booked:
		what += " for " + v.Day(ev.Day, now)
	case record.Answer:
		what = "answered “" + saidBefore[ev.Cause] + "”"
	case record.Afresh:
		what = "begun anew with " + v.Exact(ev.Gross)
	case record.InUse:
		what = "cylinder " + ev.Cylinder + " in use"
	case record.Serving:
		what = "a serving is " + v.Fine(ev.CO2)
	case record.Valve:
		what += " " + ev.Value()
	}
	return what
}
