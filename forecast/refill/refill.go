// Package refill plans the next refill: the last day to book so that the gas runs out before the refill
// arrives with no more than the accepted probability, given how long the supplier takes and when it is open.
//
// Beside it stand what helps to get it done: who can carry the cylinder, and whether its periodic inspection
// still allows a refill.
//
// Calendar steps are calendar days in the household's zone (AddDate), never 24 hours, so that a clock change
// moves no date.
package refill

import (
	"errors"
	"fmt"
	"sort"
	"time"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// Policy is how a household gets its refill.
type Policy struct {
	Risk     float64                  // accepted probability of running dry before the refill arrives, in (0, 1)
	Lead     Lead                     // calendar days from booking to arrival, before closed days
	Open     func(day time.Time) bool // whether the supplier is open on the local date of day; nil: every day
	Location *time.Location           // of the household; nil: UTC
}

// Plan is when to book.
type Plan struct {
	// Known is false when nothing is known about the run-out; then there is no date, and that is what to say.
	Known bool
	// BookBy is the last moment, on an open day and at the clock time of the look, at which booking keeps the
	// risk. It is the first chance when that is too late already, and zero when no need to book can be
	// seen within the horizon of the forecast.
	BookBy time.Time
	// Arrives is when a refill booked at BookBy is expected (median lead time); zero with BookBy.
	Arrives time.Time
	// FirstChance is the first moment at which booking is possible: now, or the next open day.
	FirstChance time.Time
	// Earliest is when a refill booked at the first chance is expected.
	Earliest time.Time
	// RiskNow is the probability of running dry before a refill booked at the first chance arrives,
	// RiskLater that when it is booked one chance later.
	RiskNow, RiskLater float64
	// Due says that today is the day: booking at a later chance would exceed the risk. A look on a closed
	// day is due only when the first chance will be too late.
	Due bool
	// Overdue says that the first chance exceeds the risk already. Overdue plans are due.
	Overdue bool
}

// horizonDays is how far ahead a date to book is looked for; forecasts are null beyond it, too.
const horizonDays = 20 * 366

// maxClosed is the longest run of closed days that can be meant: a supplier's holidays.
const maxClosed = 60

// Check says what is wrong with p.
func (p Policy) Check() error {
	switch {
	case !(p.Risk > 0 && p.Risk < 1):
		return fmt.Errorf("refill risk %g: must be above 0 and below 1, such as 0.05 for 5 %%", p.Risk)
	case len(p.Lead.share) == 0:
		return errors.New("refill lead time: not set; use the days from booking to arrival, such as 3")
	}
	return nil
}

// Plan is the plan as of now, the moment of the day's look, for the run-out out, counted from now.
//
// The probability of running dry before a refill booked at b arrives is
//
//	P(b) = Σ_L P(lead = L)·P(run-out ≤ arrive(b, L)),
//
// where arrive is L calendar days after b, moved to the next open day. P rises with b. The look repeats once
// a day, so that a plan is due when the next chance after now would exceed the risk: then the refill comes as
// late, and the cylinder is as empty, as the risk allows.
//
// It is an error when p fails Check or the supplier is closed for more than 60 days on end.
func (p Policy) Plan(now time.Time, out runout.Distribution) (Plan, error) {
	if err := p.Check(); err != nil {
		return Plan{}, err
	}
	if p.Location == nil {
		p.Location = time.UTC
	}
	now = now.In(p.Location)
	first, err := p.nextOpen(now)
	if err != nil {
		return Plan{}, err
	}
	plan := Plan{FirstChance: first}
	if plan.Earliest, err = p.arrive(first, p.Lead.Median()); err != nil || !out.Known() {
		return plan, err
	}
	return p.decide(plan, now, out)
}

// decide fills in what depends on the run-out.
func (p Policy) decide(plan Plan, now time.Time, out runout.Distribution) (Plan, error) {
	var failed error
	risk := func(book time.Time) float64 {
		r, err := p.risk(now, book, out)
		failed = errors.Join(failed, err)
		return r
	}
	chance := func(days int) time.Time { // the first chance at least so many days after the first one
		at, err := p.nextOpen(plan.FirstChance.AddDate(0, 0, days))
		failed = errors.Join(failed, err)
		return at
	}
	plan.Known = true
	plan.RiskNow, plan.RiskLater = risk(plan.FirstChance), risk(chance(1))
	plan.Overdue = plan.RiskNow > p.Risk
	plan.Due = plan.Overdue || plan.FirstChance.Equal(now) && plan.RiskLater > p.Risk

	// The first number of days that is too long; the chance before it is the last good one.
	tooLong := sort.Search(horizonDays, func(days int) bool {
		return failed != nil || risk(chance(days)) > p.Risk
	})
	switch {
	case failed != nil:
		return Plan{}, failed
	case tooLong == horizonDays:
		return plan, nil
	case tooLong == 0:
		plan.BookBy = plan.FirstChance
	default:
		plan.BookBy = chance(tooLong - 1)
	}
	var err error
	plan.Arrives, err = p.arrive(plan.BookBy, p.Lead.Median())
	return plan, err
}

// risk is the probability of running dry before a refill booked at book arrives.
func (p Policy) risk(now, book time.Time, out runout.Distribution) (float64, error) {
	sum := 0.0
	for days, share := range p.Lead.share {
		if share == 0 {
			continue
		}
		at, err := p.arrive(book, days)
		if err != nil {
			return 0, err
		}
		sum += share * out.CDF(unit.Between(now, at))
	}
	return sum, nil
}

// arrive is when a refill booked at book comes after so many days: on the next open day.
func (p Policy) arrive(book time.Time, days int) (time.Time, error) {
	return p.nextOpen(book.AddDate(0, 0, days))
}

// nextOpen is t or the same clock time on the next open day.
func (p Policy) nextOpen(t time.Time) (time.Time, error) {
	if p.Open == nil {
		return t, nil
	}
	for days := range maxClosed + 1 {
		if at := t.AddDate(0, 0, days); p.Open(at) {
			return at, nil
		}
	}
	return t, fmt.Errorf("supplier's opening days: closed for more than %d days from %s on; name at least one weekday", maxClosed, t.Format(time.DateOnly))
}

// OpenOn is a Policy.Open for weekdays (none: all) that closes on holidays (nil: none).
func OpenOn(weekdays []time.Weekday, holiday func(day time.Time) bool) func(day time.Time) bool {
	var open [7]bool
	for d := range open {
		open[d] = len(weekdays) == 0
	}
	for _, d := range weekdays {
		open[d] = true
	}
	return func(day time.Time) bool {
		return open[day.Weekday()] && (holiday == nil || !holiday(day))
	}
}
