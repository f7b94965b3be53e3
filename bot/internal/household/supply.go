package household

import (
	"slices"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// supply is how the household gets its refills, and what the last ones showed of how long that takes.
type supply struct {
	Refill
	zone    *time.Location
	past    []refill.Booking // for the lead time
	lead    refill.Wait
	delays  []refill.Acted // from the first reminder to the booking
	weights []refill.Acted // from asking for a weight to its coming
}

// remembered is how many bookings, delays and weights are learned from.
const remembered = 20

func newSupply(o Options) supply {
	s := supply{Refill: o.Refill, zone: o.Voice.Zone}
	if s.Open == nil {
		s.Open = func(time.Time) bool { return true }
	}
	if s.Holiday == nil {
		s.Holiday = func(time.Time) string { return "" }
	}
	s.learnLead()
	return s
}

func (s *supply) learnLead() { s.lead = refill.Learn(s.LeadDays, s.past, s.open) }

// open is whether the supplier is open on a day.
func (s *supply) open(day time.Time) bool { return s.Open(day) && s.Holiday(day) == "" }

// acted records, once a fill, when the refill was booked after the first reminder.
func (s *supply) acted(r *errand, at time.Time) {
	if !r.reminded.IsZero() {
		s.delays = newest(append(s.delays, refill.Acted{Asked: r.reminded.In(s.zone), Done: at.In(s.zone)}), remembered)
		r.reminded = time.Time{}
	}
}

// arrived records how long the booked refill took, or, where nobody said that it was booked, that it was.
func (s *supply) arrived(r *errand, at time.Time) {
	if r.booking.at.IsZero() {
		s.acted(r, at.AddDate(0, 0, -s.lead.Median()))
		return
	}
	s.past = newest(append(s.past, refill.Booking{Booked: r.booking.at, Arrived: at}), remembered)
	s.learnLead()
}

// never forgets that a refill arrived then: none did.
func (s *supply) never(at time.Time) {
	s.past = slices.DeleteFunc(s.past, func(b refill.Booking) bool { return b.Arrived.Equal(at) })
	s.learnLead()
}

// brought records that a weight came, if it was asked for.
func (s *supply) brought(r *errand, at time.Time) {
	if !r.asked.IsZero() {
		s.weights = newest(append(s.weights, refill.Acted{Asked: r.asked.In(s.zone), Done: at.In(s.zone)}), remembered)
		r.asked, r.asks = time.Time{}, 0
	}
}

// delay is how long this household takes from a reminder to a booking.
func (s *supply) delay(now time.Time) refill.Wait { return refill.LearnDelay(s.delays, now.In(s.zone)) }

// late is after how many days past the booked one a refill counts as not booked: one later than nine in ten are.
func (s *supply) late() int { return 3 + max(0, s.lead.Quantile(0.9)-s.lead.Median()) }

// plan is when to book, with the gas of a full spare counted in. The zero Plan says that nothing is known.
func (s *supply) plan(o forecast.Outlook, spare unit.Grams) refill.Plan {
	if !o.Known {
		return refill.Plan{}
	}
	plan, err := s.policy(o.At).Plan(o.At, withSpare(o, spare))
	if err != nil { // a supplier that never opens: the config refuses it
		return refill.Plan{}
	}
	return plan
}

// gain is by how much later people could be reminded, on average, if a weight took sd off the doubt about the run-out.
func (s *supply) gain(o forecast.Outlook, spare unit.Grams, sd unit.Days) unit.Days {
	gain, err := s.policy(o.At).Gain(o.At, withSpare(o, spare), sd)
	if err != nil { // as above
		return 0
	}
	return gain
}

func (s *supply) policy(now time.Time) refill.Policy {
	return refill.Policy{Risk: s.Risk, Delay: s.delay(now), Lead: s.lead, Open: s.open, Location: s.zone}
}

// withSpare moves the run-out to where a full spare would be empty too, at the mean use.
func withSpare(o forecast.Outlook, spare unit.Grams) runout.Distribution {
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

// fillDay is when the next filling is to be expected: the booked day, else when a refill booked in time would come, not
// before it could.
func (s *supply) fillDay(booked, bookBy, now time.Time) time.Time {
	if !booked.IsZero() {
		return booked
	}
	day := now
	if bookBy.After(day) {
		day = bookBy
	}
	return day.AddDate(0, 0, s.lead.Median())
}

// closures are the public holidays in the way: from now, if it is to be booked within three weeks, until the refill could
// be here.
func (s *supply) closures(booked, bookBy, now time.Time) []notice.Closure {
	if !booked.IsZero() || bookBy.IsZero() || bookBy.Sub(now) > 21*24*time.Hour {
		return nil
	}
	var out []notice.Closure
	until := s.fillDay(booked, bookBy, now).AddDate(0, 0, 3)
	for day := now.In(s.zone); !day.After(until) && len(out) < 3; day = day.AddDate(0, 0, 1) {
		if name := s.Holiday(day); name != "" && s.Open(day) {
			out = append(out, notice.Closure{Day: day, Name: name})
		}
	}
	return out
}
