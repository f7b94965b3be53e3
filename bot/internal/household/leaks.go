package household

import (
	"math"
	"slices"
	"strconv"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/room"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// leaks is the loss that is being told, and those that have ended.
type leaks struct {
	open  *incident
	ended []notice.Lost // oldest first
}

// incident is a loss being told.
type incident struct {
	finding  forecast.Finding
	begun    time.Time // when it was first told
	key      string
	notices  int       // after the first
	repeats  int       // of them without any news
	next     time.Time // of the next repeat
	answered bool
}

// rememberedLosses is how many losses are kept, to tell them from use.
const rememberedLosses = 32

const day = 24 * time.Hour

// Gaps between repeats of an unanswered alert, the last one from then on. A danger is repeated soon; a slow
// loss is a matter of days. What nobody answers for days is said once a week.
var (
	dangerGaps  = []time.Duration{15 * time.Minute, time.Hour, 4 * time.Hour, 12 * time.Hour, day, day, 2 * day, 4 * day, 7 * day}
	warningGaps = []time.Duration{4 * time.Hour, 12 * time.Hour, day, day, 2 * day, 4 * day, 7 * day}
	slowGaps    = []time.Duration{day, 3 * day, 7 * day}
)

func gap(gaps []time.Duration, n int) time.Duration { return gaps[min(n, len(gaps)-1)] }

// next is when an unanswered alert is repeated; zero: there is none, or nothing leaves any more.
func (l *leaks) next() time.Time {
	if l.open == nil || l.open.answered || l.open.finding.Rate <= 0 {
		return time.Time{}
	}
	return l.open.next
}

// found tells of a loss: as a new one, or, when one is being told already, as its getting worse.
func (l *leaks) found(t turn, place *Cylinder, f forecast.Finding, o forecast.Outlook) {
	if l.open != nil {
		l.open.finding, l.open.answered = f, false
		l.follow(t, place, o)
		return
	}
	l.open = &incident{finding: f, begun: f.At}
	l.open.key = l.open.say(t, place, o, f.At, "")
}

// repeat tells an unanswered alert again.
func (l *leaks) repeat(t turn, place *Cylinder, o forecast.Outlook) {
	l.open.repeats++
	l.follow(t, place, o)
}

// follow continues a told alert with what is known now.
func (l *leaks) follow(t turn, place *Cylinder, o forecast.Outlook) {
	l.open.notices++
	l.update(o)
	l.open.say(t, place, o, t.Now, "/"+strconv.Itoa(l.open.notices)) // a slow and a fast loss may be found in one moment
}

// say alerts of the loss, and sets when that is repeated.
func (i *incident) say(t turn, place *Cylinder, o forecast.Outlook, at time.Time, mark string) (key string) {
	loss, gaps := i.loss(t, place, o), warningGaps
	switch {
	case loss.Danger:
		gaps = dangerGaps
	case i.finding.Kind == forecast.SlowLoss:
		gaps = slowGaps
	}
	i.next = t.Now.Add(gap(gaps, i.notices))
	return t.say(t.voice.Leak(t.Place, loss), at, mark, i.key)
}

// update carries the loss forward to what the last weighing shows.
func (l *leaks) update(o forecast.Outlook) {
	if l.open == nil || o.Loss.Mean <= 0 {
		return
	}
	f := &l.open.finding
	f.Rate, f.RateSD = unit.GramsPerHour(o.Loss.Mean), unit.GramsPerHour(o.Loss.SD)
	f.Mass = max(f.Mass, f.Rate.Over(unit.Between(f.Since, o.LastSeen)))
}

// stopped tells that a told loss has ended, and returns what it took in all.
func (l *leaks) stopped(t turn, f forecast.Finding, o forecast.Outlook) unit.Grams {
	if l.open == nil {
		return 0
	}
	first := l.open.key
	f.Mass = max(f.Mass, l.open.finding.Mass) // the end is no less than what was told on the way
	l.open.finding.Mass = f.Mass
	gone := l.end(f.At)
	t.say(t.voice.Stopped(t.Place, f, o.Known && o.Gas.Mean < float64(o.Heel)), f.At, "/stopped", first)
	return gone
}

// answer records what the household says that a loss was, and returns what it took if that ends it.
func (l *leaks) answer(ev record.Event) unit.Grams {
	if l.open == nil {
		return 0
	}
	l.open.answered = true
	switch ev.Cause {
	case record.Lost:
	case record.Repaired:
		return l.end(ev.At)
	default:
		l.open = nil
	}
	return 0
}

// end closes what is being told as a loss until at, and returns what it took.
func (l *leaks) end(at time.Time) unit.Grams {
	if l.open == nil {
		return 0
	}
	f := l.open.finding
	l.ended = newest(append(l.ended, notice.Lost{From: f.Since, To: at, Mass: max(0, f.Mass)}), rememberedLosses)
	l.open = nil
	return max(0, f.Mass)
}

// all are those that have ended and the one being told: to now if it goes on, and by as much as the last weighing shows.
func (l *leaks) all(o forecast.Outlook) []notice.Lost {
	all := slices.Clone(l.ended)
	if l.open != nil {
		f, to := l.open.finding, o.At
		if f.Rate <= 0 {
			to = f.At
		}
		all = append(all, notice.Lost{From: f.Since, To: to, Mass: max(0, f.Mass, f.Rate.Over(unit.Between(f.Since, o.LastSeen)))})
	}
	return all
}

// escaping is when gas was first told to escape fast; zero: none does.
func (l *leaks) escaping() time.Time {
	if l.open == nil || l.open.finding.Kind != forecast.AbruptLoss || l.open.finding.Rate <= 0 {
		return time.Time{}
	}
	return l.open.begun
}

// loss gathers what there is to say about a loss in a place.
func (i *incident) loss(t turn, place *Cylinder, o forecast.Outlook) notice.Loss {
	f := i.finding
	l := notice.Loss{Finding: f, Again: i.repeats, About: i.begun, Money: t.worth(f.Mass)}
	l.Room, l.Assumed = roomOf(place)
	l.Danger = f.Kind == forecast.AbruptLoss && dangerous(l.Room, f, t.Now, unit.Grams(math.Max(0, o.Gas.Mean)))
	if rate := float64(f.Rate) + o.Use.Mean/24; f.Rate > 0 && rate > 0 {
		left := unit.Days(math.Max(0, o.Gas.Mean-float64(o.Heel)) / rate / 24)
		if at, ok := left.After(t.Now); ok {
			l.RunOut = at
		}
	}
	return l
}

// roomOf is the room of a place; assumed: it is not described, and a small one stands for it.
func roomOf(c *Cylinder) (r room.Room, assumed bool) {
	if c.RoomVolume > 0 {
		if r, err := room.New(c.RoomVolume, c.AirChanges); err == nil { // else the config refuses it
			return r, false
		}
	}
	return room.Unknown(), true
}

// dangerous reports that what escapes could bring the room to the exposure limit for a working day, the lowest in force. Of the
// rate, which is known only so well, the upper end of 95 % counts.
func dangerous(r room.Room, f forecast.Finding, now time.Time, left unit.Grams) bool {
	return r.Worst(room.Loss{Gone: f.Mass, Over: unit.Between(f.Since, now), Rate: f.Rate + 2*f.RateSD, Left: left}) >= room.LongTerm
}
