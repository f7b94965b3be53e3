package outbox

import (
	"fmt"
	"slices"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/store"
)

// lateAfter is how far behind its time a message may come without a word about it, answerAfter that for an answer.
const (
	lateAfter   = time.Hour
	answerAfter = time.Minute
)

// dated marks m as late when it is. What waited for the quiet hours to end was meant for that moment.
func (b *Outbox) dated(m chat.Message, o store.Outgoing, now time.Time) chat.Message {
	due, allowed := o.Due, lateAfter
	if o.Kind == store.Answer {
		allowed = answerAfter
	} else if until, quiet := b.opt.Quiet(due); quiet && !o.Urgent {
		due = until
	}
	if now.Sub(due) <= allowed {
		return m
	}
	why := "it could not be posted until now"
	if o.Attempts > 0 {
		why = "the chat could not be reached"
	}
	m.Body = slices.Insert(slices.Clone(m.Body), 0, fmt.Sprintf("Meant for %s; %s.", moment(due.In(b.opt.Zone), now), why))
	return m
}

// moment names a past time as people do: by the day of the week while that is clear.
func moment(t, now time.Time) string {
	switch age := now.Sub(t); {
	case age < 6*24*time.Hour:
		return t.Format("Monday 15:04")
	case t.Year() == now.In(t.Location()).Year():
		return t.Format("Monday 2 January 15:04")
	default:
		return t.Format("2 January 2006 15:04")
	}
}
