package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit/record"
)

// errand is where getting the refill of a fill stands.
type errand struct {
	first     string    // key of the first reminder to book; empty: none yet
	reminded  time.Time // when that was; zero: how long the booking took since is learned
	again     int       // reminders so far
	notBefore time.Time // no reminder before
	asked     time.Time // for a weight that did not come yet; zero: for none
	asks      int       // so often
	booking   booking
	moves     int // of the booked day
	carrier   string
}

// booking is a booked refill; the zero booking is none.
type booking struct {
	day       time.Time // noon of it
	by        string
	at        time.Time // when it was first booked, for the lead time
	announced bool      // the day before was told, or came too soon to be
	inquired  bool      // whether the refill came, the booked day having passed
}

// repeatAfter is how long an unanswered reminder to book rests, rarelyAfter after patient of them, from then on each time twice as long up to rarest, and
// laterDays one that was put off.
const (
	repeatAfter = 3 * 24 * time.Hour
	rarelyAfter = 7 * 24 * time.Hour
	rarest      = 28 * 24 * time.Hour
	patient     = 3
	laterDays   = 2
)

// neverCame is how many days after the booked one a booking that nobody spoke of any more is forgotten: the refill came and was not told, or will not
// come. What is filled then says nothing about how long the supplier takes. Ours.
const neverCame = 28

// followUp follows a booked day: a word the day before, one question when it passed without a fill.
func (r *errand) followUp(t turn, s notice.Situation) {
	b := &r.booking
	if b.day.IsZero() {
		return
	}
	follows := r.first
	if follows == "" {
		follows = t.Cylinder + "/booked"
	}
	switch days := t.days(t.Now, b.day); {
	case days < -neverCame:
		r.unbook()
	case days == 1 && !b.announced:
		b.announced = true
		t.say(t.voice.Tomorrow(s), b.day, "/eve", follows)
	case days < 0 && !b.inquired:
		b.inquired = true
		t.say(t.voice.DidItCome(s), b.day, "/came", follows)
	}
}

// remind says that it is time to book, and says it again while nobody has booked.
func (r *errand) remind(t turn, s notice.Situation) {
	if s.Missed = r.booking.day; !s.Missed.IsZero() {
		r.unbook()
	}
	s.Booked = time.Time{}
	if s.Missed.IsZero() && !r.notBefore.IsZero() && t.Now.Sub(r.notBefore) > repeatAfter { // it was not due any more meanwhile: a weight had shown that there was time
		r.first, r.again = "", 0
	}
	r.notBefore = t.Now.Add(repeatAfter)
	if r.again >= patient {
		r.notBefore = t.Now.Add(min(rarelyAfter<<min(r.again-patient, 4), rarest))
	}
	key := t.say(t.voice.Refill(s, r.again), t.Now, "", r.first)
	if r.first == "" {
		r.first, r.reminded = key, t.Now
	}
	r.again++
}

// ask records that a weight is asked for.
func (r *errand) ask(now time.Time) { r.asked, r.asks = now, r.asks+1 }

// askWeight asks for a weight.
func (r *errand) askWeight(t turn, s notice.Situation) {
	r.ask(t.Now)
	t.say(t.voice.Weigh(s), t.Now, "", "")
}

// book records that the refill is booked for a day.
func (r *errand) book(t turn, ev record.Event) {
	y, m, d := ev.Day.UTC().Date() // a day without a zone: the household's
	day := time.Date(y, m, d, 12, 0, 0, 0, t.voice.Zone)
	b := &r.booking
	if !b.day.IsZero() && !b.day.Equal(day) {
		r.moves++
	}
	if b.at.IsZero() {
		b.at = ev.At
	}
	b.day, b.by, b.announced, b.inquired = day, ev.By, t.days(ev.At, day) <= 1, false
	if r.carrier == "" {
		r.carrier = ev.By
	}
}

// unbook forgets the booked day.
func (r *errand) unbook() {
	r.booking = booking{}
	r.moves++
}

// cancel records that there is no refill booked any more: it is to be planned anew at once.
func (r *errand) cancel() {
	r.unbook()
	r.notBefore, r.carrier = time.Time{}, ""
}

// claim records who sees to it.
func (r *errand) claim(by string, now time.Time) { r.carrier, r.notBefore = by, now.Add(repeatAfter) }

// postpone puts the next reminder off.
func (r *errand) postpone(now time.Time) { r.notBefore = now.AddDate(0, 0, laterDays) }

// awaits reports that a refill was booked, or people were told to book it.
func (r *errand) awaits() bool { return r.first != "" || !r.booking.at.IsZero() }

// leaves reports that the cylinder is expected to be away at a time, to be refilled.
func (r *errand) leaves(t turn, at time.Time) bool {
	return !r.booking.day.IsZero() && t.days(at, r.booking.day) <= 1
}
