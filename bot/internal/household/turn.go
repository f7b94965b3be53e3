package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/schedule"
	"tarebell/forecast/unit"
)

// turn is a moment at a cylinder: what its parts need to speak of it, and where they put what they say.
type turn struct {
	notice.Place
	voice notice.Voice
	worth func(unit.Grams) string // what gas costs; "" without a price
	out   *[]notice.Notice
}

// say gives out a notice about something that happened at a time, and returns its key, which names the occasion for ever; mark tells notices of
// one kind and time apart. follows is the key of the notice that it repeats or continues; empty for a new one.
func (t turn) say(n notice.Notice, at time.Time, mark, follows string) (key string) {
	n.Key = t.Cylinder + "/" + string(n.Kind) + "/" + at.UTC().Format("20060102T150405.000") + mark
	n.Follows = follows
	*t.out = append(*t.out, n)
	return n.Key
}

// days counts the midnights from a to b.
func (t turn) days(a, b time.Time) int { return schedule.DaysBetween(a, b, t.voice.Zone) }
