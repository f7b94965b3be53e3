// Package invitation makes the calendar file of a booked refill (RFC 5545), for people to drop into whatever
// calendar they use.
package invitation

import (
	"crypto/sha256"
	"encoding/hex"
	"time"

	ics "github.com/arran4/golang-ical"
)

// MediaType is that of the file.
const MediaType = "text/calendar; charset=utf-8"

// Refill is a booked refill.
type Refill struct {
	Occasion string    // the same for every date the same refill is moved to
	Revision int       // how often it was moved, from 0
	Day      time.Time // on the local date of it
	Now      time.Time
	Summary  string
	Notes    string // may have several lines
	Place    string // empty: not said
	Reminder string // what the reminder says the afternoon before
}

// File is the invitation: one event that lasts all day and blocks no time, with a reminder at 17:00 the day before.
// The same occasion has the same UID, so that a calendar moves the event instead of showing two (RFC 5545,
// 3.8.4.7 and 3.8.7.4).
func File(r Refill) []byte {
	c := ics.NewCalendar()
	c.SetProductId("-//Tarebell//Tarebell//EN")
	c.SetMethod(ics.MethodPublish)
	sum := sha256.Sum256([]byte(r.Occasion))
	e := c.AddEvent(hex.EncodeToString(sum[:12]) + "@tarebell.invalid")
	e.SetDtStampTime(r.Now.UTC())
	e.SetSequence(r.Revision)
	y, m, d := r.Day.Date()
	day := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	e.SetAllDayStartAt(day)
	e.SetAllDayEndAt(day.AddDate(0, 0, 1))
	e.SetSummary(r.Summary)
	e.SetDescription(r.Notes)
	if r.Place != "" {
		e.SetLocation(r.Place)
	}
	e.SetTimeTransparency(ics.TransparencyTransparent)
	a := e.AddAlarm()
	a.SetAction(ics.ActionDisplay)
	a.SetTrigger("-PT7H")
	a.SetDescription(r.Reminder)
	return []byte(c.Serialize(ics.WithNewLine("\r\n")))
}
