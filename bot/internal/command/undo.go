package command

import (
	"context"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/live"
	"tarebell/bot/internal/store"
	"tarebell/forecast/unit"
)

// undoLast strikes out the newest thing that the caller entered.
func (d *Desk) undoLast(ctx context.Context, c chat.Call) (chat.Answer, error) {
	recent, err := d.opt.House.Recent(ctx, "", 50)
	if err != nil {
		return chat.Answer{}, err
	}
	for _, e := range recent {
		if e.By == c.By.ID && !e.Voided {
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
	if first := replaced(e.Key); first > 0 {
		old, err := d.opt.House.Entry(ctx, first)
		if err != nil {
			return chat.Answer{}, err
		}
		before = " " + d.opt.Voice.Exact(unit.Grams(old.GrossG)) + " counts again."
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
	what := d.opt.Voice.Exact(unit.Grams(e.GrossG))
	if e.Kind != store.Weighing {
		what = d.told(e, now)
	}
	if e.ByName != "" {
		what += " by " + e.ByName
	}
	return what + ", " + d.opt.Voice.Moment(e.At, now)
}

// deeds are the events that need no more than a word.
var deeds = map[household.EventKind]string{
	household.Unbooked: "refill not booked", household.Mine: "the refill taken on", household.Later: "to be reminded later",
	household.Calibrated: "scale checked", household.CheckLater: "to be reminded of the scale later",
}

// told is an event in a few words.
func (d *Desk) told(e store.Entry, now time.Time) string {
	r, err := live.ToRecorded(e)
	what := strings.ReplaceAll(e.Name, "-", " ")
	if words, ok := deeds[household.EventKind(e.Name)]; ok {
		what = words
	}
	if err != nil {
		return what
	}
	v := d.opt.Voice
	switch ev := live.FromRecorded(r, e.Cylinder); ev.Kind {
	case household.Filled:
		if ev.Net > 0 {
			what += " with " + v.Exact(ev.Net)
		}
		if ev.Tare > 0 {
			what += ", tare " + v.Exact(ev.Tare)
		}
		if ev.Price.Code() != "" {
			what += " for " + ev.Price.String()
		}
	case household.Made:
		what = servings(ev.Count)
	case household.Away, household.Absent:
		what = "away until " + v.Day(ev.Until, now)
		if !ev.Until.After(ev.At) {
			what = "back again"
		}
	case household.Booked:
		what += " for " + v.Day(ev.Day, now)
	case household.Answer:
		what = "answered “" + saidBefore[ev.Cause] + "”"
	case household.Afresh:
		what = "begun anew with " + v.Exact(ev.Gross)
	case household.InUse:
		what = "cylinder " + e.Cylinder + " in use"
	case household.Serving:
		what = "a serving is " + v.Fine(ev.CO2)
	case household.Valve:
		what += " " + e.Value
	}
	return what
}
