package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/refill"
)

// errandOf fills in how getting the refill stands.
func (e *Engine) errandOf(it *item, s *notice.Situation) {
	s.Supplier, s.Swap = e.opt.Refill.Supplier, e.opt.Refill.Swap
	s.Serving, s.Litres = e.gasPerServing(), e.litres()
	s.Turns, s.Helpers = e.people.turns(s.Now), e.people.helpers(it.refill.carrier, s.Now)
	name, spare := e.fullSpare()
	if it.spare {
		name, spare = "", 0
	}
	s.FullSpare = name
	s.Plan = e.plan(s.Outlook, spare)
	s.Closures = e.closures(s)
	if due := it.cfg.Retest; !due.IsZero() {
		s.RetestDue = due
		s.Retest = refill.Retest{Last: due.AddDate(-1, 0, 0), Years: 1}.On(e.fillDay(s))
	}
}

// fillDay is when the next filling is to be expected: the booked day, else when a refill booked in time would come, not
// before it could.
func (e *Engine) fillDay(s *notice.Situation) time.Time {
	day := s.Booked
	if day.IsZero() {
		day = s.Now
		if !s.BookBy.IsZero() && s.BookBy.After(day) {
			day = s.BookBy
		}
		day = day.AddDate(0, 0, s.LeadDays)
	}
	return day
}

// closures are the public holidays in the way: from now, if it is to be booked within three weeks, until the refill could
// be here.
func (e *Engine) closures(s *notice.Situation) []notice.Closure {
	if e.opt.Refill.Holiday == nil || !s.Booked.IsZero() || s.BookBy.IsZero() || s.BookBy.Sub(s.Now) > 21*24*time.Hour {
		return nil
	}
	var out []notice.Closure
	until := e.fillDay(s).AddDate(0, 0, 3)
	for day := s.Now.In(e.opt.Zone); !day.After(until) && len(out) < 3; day = day.AddDate(0, 0, 1) {
		if name := e.opt.Refill.Holiday(day); name != "" && (e.opt.Refill.Open == nil || e.opt.Refill.Open(day)) {
			out = append(out, notice.Closure{Day: day, Name: name})
		}
	}
	return out
}
