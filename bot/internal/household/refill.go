package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/schedule"
	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// repeatAfter is how long an unanswered reminder to book rests, and rarelyAfter after patient of them.
const (
	repeatAfter = 3 * 24 * time.Hour
	rarelyAfter = 7 * 24 * time.Hour
	patient     = 3
)

// firstThings is how long nobody is sent to book for gas that is escaping fast: it is to be stopped first.
const firstThings = 24 * time.Hour

// daily takes the day's look at a cylinder: is it time to book, is the booked day tomorrow or past, is the retest near?
func (e *Engine) daily(it *item) {
	if it.filledAt.IsZero() || it.spare {
		return
	}
	it.looked = e.now
	s := e.situation(it)
	it.note(s.Outlook)
	it.sharpen(s.Outlook)
	e.booked(it, s)
	e.act(it, s, e.decide(it, s, 0))
	e.retest(it)
}

// booked follows a booked day: a word the day before, one question when it passed without a fill.
func (e *Engine) booked(it *item, s notice.Situation) {
	r := &it.refill
	if r.booked.IsZero() {
		return
	}
	switch days := e.calendarDays(e.now, r.booked); {
	case days == 1 && !r.eve:
		r.eve = true
		e.say(e.opt.Voice.Tomorrow(s, e.key(it, notice.RefillDue, r.booked)+"/eve", it.errandKey()))
	case days < 0 && !r.inquired:
		r.inquired = true
		e.say(e.opt.Voice.DidItCome(s, e.key(it, notice.RefillDue, r.booked)+"/came", it.errandKey()))
	}
}

// errandKey is what the messages about a booked refill follow: the first reminder, if there was one.
func (it *item) errandKey() string {
	if it.refill.first != "" {
		return it.refill.first
	}
	return it.cfg.Name + "/booked"
}

// calendarDays counts midnights from a to b in the household's zone.
func (e *Engine) calendarDays(a, b time.Time) int { return schedule.DaysBetween(a, b, e.opt.Zone) }

// decide is what is to be said of getting the refill, as far as ahead days can wait for it.
func (e *Engine) decide(it *item, s notice.Situation, ahead int) notice.Decision {
	r := &it.refill
	f := Facts{Now: e.now, Spare: it.spare, Known: s.Outlook.Known && s.Outlook.RunOut.Known(), Plan: s.Plan, Reminded: r.first != "", Rest: r.next}
	if !r.booked.IsZero() && e.calendarDays(r.booked, e.now) < e.late() {
		f.Booked = r.booked
	}
	if l := it.loss; l != nil && l.finding.Kind == forecast.AbruptLoss {
		f.Escaping = l.begun.Add(firstThings)
	}
	f.Full = !it.polled && s.LastGross-s.House > mostOfFill*it.cfg.Forecast.NetFill && e.now.Sub(s.Outlook.LastSeen) < askAgain
	f.Weight = e.weight(it, s.Outlook, f.Plan, ahead)
	it.decision = Decide(f)
	return it.decision
}

// late is after how many days past the booked one a refill counts as not booked: one later than nine in ten are.
func (e *Engine) late() int { return 3 + max(0, e.lead.Quantile(0.9)-e.lead.Median()) }

// act says what was decided.
func (e *Engine) act(it *item, s notice.Situation, d notice.Decision) {
	switch d.Say {
	case notice.WeighDue:
		e.askWeight(it, s)
	case notice.RefillDue:
		e.remind(it, s)
	}
}

// remind says that it is time to book, and says it again while nobody has booked.
func (e *Engine) remind(it *item, s notice.Situation) {
	r := &it.refill
	if !r.booked.IsZero() {
		s.Missed = r.booked
		r.unbook()
	}
	s.Booked = time.Time{}
	r.next = e.now.Add(repeatAfter)
	if r.again >= patient {
		r.next = e.now.Add(rarelyAfter)
	}
	key := e.key(it, notice.RefillDue, e.now)
	e.say(e.opt.Voice.Refill(s, key, r.first, r.again))
	if r.first == "" {
		r.first, r.reminded = key, e.now
	}
	r.again++
}

// book takes down that the refill is booked for a day.
func (e *Engine) book(it *item, ev record.Event) {
	r := &it.refill
	y, m, d := ev.Day.UTC().Date() // a day without a zone: the household's
	ev.Day = time.Date(y, m, d, 12, 0, 0, 0, e.opt.Zone)
	if r.bookedAt.IsZero() {
		r.bookedAt = ev.At
	}
	e.acted(it, ev.At)
	if !r.booked.IsZero() && !r.booked.Equal(ev.Day) {
		r.moves++
	}
	r.booked, r.bookedBy, r.inquired = ev.Day, ev.By, false
	r.eve = e.calendarDays(ev.At, ev.Day) <= 1
	if ev.By != "" && r.carrier == "" {
		r.carrier = ev.By
	}
}

// unbook forgets the booked day.
func (r *errand) unbook() {
	r.booked, r.bookedAt, r.bookedBy = time.Time{}, time.Time{}, ""
	r.moves++
}

// cancel takes down that there is no refill booked any more, and plans anew at once.
func (e *Engine) cancel(it *item) {
	it.refill.unbook()
	it.refill.next = time.Time{}
	it.refill.carrier = ""
	e.daily(it)
}

// plan is when to book, with the gas of a full spare counted in. The zero Plan says that nothing is known.
func (e *Engine) plan(o forecast.Outlook, spare unit.Grams) refill.Plan {
	if !o.Known {
		return refill.Plan{}
	}
	plan, err := e.policy(o.At).Plan(o.At, e.withSpare(o, spare))
	if err != nil { // a supplier that never opens: the config refuses it
		return refill.Plan{}
	}
	return plan
}

// spareFor is the usable gas that stands by full for a cylinder.
func (e *Engine) spareFor(it *item) unit.Grams {
	if it.spare {
		return 0
	}
	_, gas := e.fullSpare()
	return gas
}

// policy is how the household gets its refill, as of now.
func (e *Engine) policy(now time.Time) refill.Policy {
	return refill.Policy{Risk: e.opt.Refill.Risk, Delay: refill.LearnDelay(e.delays, now.In(e.opt.Zone)), Lead: e.lead, Open: e.open(), Location: e.opt.Zone}
}

// withSpare moves the run-out to where a full spare would be empty too, at the mean use.
func (e *Engine) withSpare(o forecast.Outlook, spare unit.Grams) runout.Distribution {
	if spare <= 0 || !o.RunOut.Known() || o.Use.Mean <= 0 {
		return o.RunOut
	}
	more := unit.Days(float64(spare) / o.Use.Mean)
	const n = 199
	draws := make([]unit.Days, n)
	for i := range draws {
		draws[i] = o.RunOut.Quantile((float64(i)+0.5)/n) + more
	}
	return runout.FromDraws(draws)
}

// open is whether the supplier is open on a day; nil: always.
func (e *Engine) open() func(time.Time) bool {
	r := &e.opt.Refill
	if r.Holiday == nil {
		return r.Open
	}
	return func(day time.Time) bool { return (r.Open == nil || r.Open(day)) && r.Holiday(day) == "" }
}

// learnLead learns the lead time from the bookings so far.
func (e *Engine) learnLead() { e.lead = refill.Learn(e.opt.Refill.LeadDays, e.past, e.open()) }

// rememberedBookings is how many bookings the lead time is learned from.
const rememberedBookings = 20

// acted takes down, once a fill, when the refill was booked after the first reminder.
func (e *Engine) acted(it *item, at time.Time) {
	r := &it.refill
	if r.reminded.IsZero() || r.acted {
		return
	}
	r.acted = true
	e.delays = append(e.delays, refill.Acted{Asked: r.reminded.In(e.opt.Zone), Done: at.In(e.opt.Zone)})
	e.delays = e.delays[max(0, len(e.delays)-rememberedBookings):]
}

// arrived takes down how long the booked refill took, or, where nobody said that it was booked, that it was.
func (e *Engine) arrived(it *item, at time.Time) {
	if it.refill.bookedAt.IsZero() {
		e.acted(it, at.AddDate(0, 0, -e.lead.Median()))
		return
	}
	e.past = append(e.past, refill.Booking{Booked: it.refill.bookedAt, Arrived: at})
	e.past = e.past[max(0, len(e.past)-rememberedBookings):]
	e.learnLead()
}

// retest reminds once of the periodic inspection, two months ahead, and once when it is overdue.
func (e *Engine) retest(it *item) {
	due := it.cfg.Retest
	if due.IsZero() {
		return
	}
	for _, at := range []time.Time{due.AddDate(0, -2, 0), due} {
		if !e.now.Before(at) && it.retest.Before(at) {
			it.retest = e.now
			if e.now.Sub(at) < 30*24*time.Hour || at.Equal(due) {
				e.say(e.opt.Voice.Retest(e.place(it), due, e.key(it, notice.RetestDue, at)))
			}
			return
		}
	}
}
