package household

import "time"

// timetable says when the cylinders are next reviewed and the weekly status is due.
//
// A household that says nothing is reviewed ever more rarely, and not at all in the end: every review carries what is believed forward from the
// last input, and a wrong clock may let a century pass at once.
type timetable struct {
	hour       int
	zone       *time.Location
	nextStatus func(time.Time) time.Time

	input  time.Time // the last weighing or event
	review time.Time // the next daily review; zero: none before the next input
	status time.Time // the next weekly status; zero: none before the next input
}

const (
	silence     = 100 * 24 * time.Hour     // from then on the reviews become rarer
	rarer       = 10                       // the next review comes when the silence has grown by this part
	longSilence = 2 * 366 * 24 * time.Hour // after which nothing is reviewed before the next input
)

func newTimetable(o Options) timetable {
	return timetable{hour: o.ReviewHour, zone: o.Voice.Zone, nextStatus: o.NextStatus}
}

// begin starts at the last input, now.
func (t *timetable) begin(now time.Time) {
	t.input = now
	t.review, t.status = t.reviewAfter(now), t.statusAfter(now)
}

// entered records that there was an input now. After a silence the reviews come as often as ever.
func (t *timetable) entered(now time.Time) {
	wait, _ := t.rests(now)
	t.input = now
	if wait > 0 {
		t.begin(now)
	}
}

// rests reports that the silence at a time is so long that nothing is reviewed, and how long at least to the next review otherwise.
func (t *timetable) rests(at time.Time) (wait time.Duration, forever bool) {
	quiet := at.Sub(t.input)
	if quiet < silence {
		return 0, false
	}
	return quiet / rarer, quiet > longSilence
}

func (t *timetable) reviewAfter(now time.Time) time.Time {
	wait, forever := t.rests(now)
	if forever {
		return time.Time{}
	}
	now = now.Add(wait).In(t.zone)
	at := time.Date(now.Year(), now.Month(), now.Day(), t.hour, 0, 0, 0, t.zone)
	if !at.After(now) {
		at = time.Date(now.Year(), now.Month(), now.Day()+1, t.hour, 0, 0, 0, t.zone)
	}
	return at
}

func (t *timetable) statusAfter(now time.Time) time.Time {
	wait, forever := t.rests(now)
	if forever || t.nextStatus == nil {
		return time.Time{}
	}
	return t.nextStatus(now.Add(wait))
}

// earlier is the earlier of two times, of which a zero one is never.
func earlier(a, b time.Time) time.Time {
	if a.IsZero() || (!b.IsZero() && b.Before(a)) {
		return b
	}
	return a
}

// due reports that a time has come; a zero one never does.
func due(at, now time.Time) bool { return !at.IsZero() && !at.After(now) }
