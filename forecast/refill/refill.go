// Package refill plans the next refill: the last day to book so that the gas runs out before the refill
// arrives with no more than the accepted probability, given how long the supplier takes and when it is open.
// People book some days after they are reminded; the plan therefore also names the day to remind them. It says
// by how many days a reminder could come later if the gas were known better, which tells whether a weight is
// worth asking for. How long supplier and people take is learned from the refills before.
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
	"math"
	"sort"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// Policy is how a household gets its refill.
type Policy struct {
	Risk     float64                  // accepted probability of running dry before the refill arrives, in (0, 1)
	Delay    Wait                     // calendar days from the first reminder to the booking; not set: none
	Lead     Wait                     // calendar days from booking to arrival, before closed days
	Open     func(day time.Time) bool // whether the supplier is open on the local date of day; nil: every day
	Location *time.Location           // of the household; nil: UTC
}

// Plan is when to remind and when to book.
type Plan struct {
	// Known is false when nothing is known about the run-out; then there is no date, and that is what to say.
	Known bool
	// RemindBy is the look, one a day from now on, at which a reminder comes nearest to the risk from below or above, as people
	// take some days to act on it. It is now when that is too late already, and zero when no need can be seen within the
	// horizon of the forecast.
	RemindBy time.Time
	// BookBy is the last moment, on an open day and at the clock time of the look, at which a booking keeps the
	// risk. It is the first chance when that is too late already, and zero with RemindBy.
	BookBy time.Time
	// Arrives is when a refill booked at BookBy is expected (median lead time); zero with BookBy.
	Arrives time.Time
	// FirstChance is the first moment at which booking is possible: now, or the next open day.
	FirstChance time.Time
	// Earliest is when a refill booked at the first chance is expected.
	Earliest time.Time
	// RiskNow is the probability of running dry before a refill booked at the first chance arrives, RiskLater that
	// when it is booked one chance later, RiskReminded that when people are reminded now.
	RiskNow, RiskLater, RiskReminded float64
	// Due says that a reminder now comes nearer to the risk than one at the next look.
	Due bool
	// Overdue says that booking at the first chance exceeds the risk already. Overdue plans are due.
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
// The probability of running dry before a refill booked at b arrives, and of doing so when people are reminded at r, is
//
//	P(b) = Σ_L P(lead = L)·P(run-out ≤ arrive(b, L)),  Q(r) = Σ_D P(delay = D)·P(r + D),
//
// where arrive is L calendar days after b; both a booking and an arrival are moved to the next open day. P and Q rise. The look
// repeats once a day; a plan is due when the mean of Q at this look and at the next exceeds the risk. One look may then be above
// it, another below: over many refills the risk had is the one accepted, and no more gas is given back than that takes.
//
// It is an error when p fails Check or the supplier is closed for more than 60 days on end.
func (p Policy) Plan(now time.Time, out runout.Distribution) (Plan, error) {
	if err := p.Check(); err != nil {
		return Plan{}, err
	}
	if p.Location == nil {
		p.Location = time.UTC
	}
	d := days{p: p, now: now.In(p.Location), out: out, booked: map[int]float64{}}
	first := d.chance(0)
	plan := Plan{FirstChance: d.at(first), Earliest: d.at(d.chance(first + p.Lead.Median()))}
	if d.err != nil || !out.Known() {
		return plan, d.err
	}
	plan.Known = true
	plan.RiskNow, plan.RiskLater, plan.RiskReminded = d.risk(first), d.risk(d.chance(first+1)), d.reminded(0)
	plan.Overdue, plan.Due = plan.RiskNow > p.Risk, d.between(0) > p.Risk
	if last := d.last(d.between); last < horizonDays {
		book := max(first, d.last(d.risk))
		plan.RemindBy, plan.BookBy, plan.Arrives = d.at(last+1), d.at(book), d.at(d.chance(book+p.Lead.Median()))
	}
	if d.err != nil {
		return Plan{}, d.err
	}
	return plan, nil
}

// Gain is by how many days, on average, a reminder could come later if something were known beforehand that takes sd of the
// uncertainty of the run-out date away: the date is then one of a narrower law around a place that is itself uncertain by sd. With
// the reminder put off by μ days under the narrower law at the old place it is E[max(0, μ + sd·Z)], Z standard normal: where what
// is learned does not put it off, people are reminded as before (the preposterior analysis of Raiffa & Schlaifer, Applied
// Statistical Decision Theory, 1961, chapter 5, with a normal law).
func (p Policy) Gain(now time.Time, out runout.Distribution, sd unit.Days) (unit.Days, error) {
	plan, err := p.Plan(now, out)
	if err != nil || plan.RemindBy.IsZero() || !(sd > 0) {
		return 0, err
	}
	const n = 64
	mid, low := out.Quantile(0.5), out.Quantile(0.1586)
	known := min(sd/(mid-low), mostKnown)
	draws := make([]unit.Days, n)
	for i := range draws {
		x := out.Quantile((float64(i) + 0.5) / n)
		if draws[i] = x; !math.IsInf(float64(x), 0) {
			draws[i] = mid + (x-mid)*unit.Days(math.Sqrt(1-float64(known*known)))
		}
	}
	narrow, err := p.Plan(now, runout.FromDraws(draws))
	if err != nil || narrow.RemindBy.IsZero() {
		return 0, err
	}
	off, spread := float64(unit.Between(plan.RemindBy, narrow.RemindBy)), float64(known*(mid-low))
	z := distuv.UnitNormal
	return unit.Days(off*z.CDF(off/spread) + spread*z.Prob(off/spread)), nil
}

// mostKnown is the largest share of a standard deviation that anything can take away: the use to come stays unknown. Ours.
const mostKnown = 0.95

// days counts calendar days from now, so that no clock change moves a date.
type days struct {
	p      Policy
	now    time.Time
	out    runout.Distribution
	booked map[int]float64 // risk by day of booking, as far as worked out
	err    error
}

func (d *days) at(day int) time.Time { return d.now.AddDate(0, 0, day) }

// chance is the first open day from day on.
func (d *days) chance(day int) int {
	if d.p.Open == nil {
		return day
	}
	for n := range maxClosed + 1 {
		if d.p.Open(d.at(day + n)) {
			return day + n
		}
	}
	if d.err == nil {
		d.err = fmt.Errorf("supplier's opening days: closed for more than %d days from %s on; name at least one weekday", maxClosed, d.at(day).Format(time.DateOnly))
	}
	return day
}

// risk is the probability of running dry before a refill booked at the first chance from day on arrives.
func (d *days) risk(day int) float64 {
	book := d.chance(day)
	sum, known := d.booked[book]
	if known {
		return sum
	}
	for lead, share := range d.p.Lead.share {
		if share > 0 {
			sum += share * d.out.CDF(unit.Between(d.now, d.at(d.chance(book+lead))))
		}
	}
	d.booked[book] = sum
	return sum
}

// reminded is the probability of running dry when people are reminded on day.
func (d *days) reminded(day int) float64 {
	if len(d.p.Delay.share) == 0 {
		return d.risk(day)
	}
	sum := 0.0
	for delay, share := range d.p.Delay.share {
		if share > 0 {
			sum += share * d.risk(day+delay)
		}
	}
	return sum
}

// between is the mean of the risks when people are reminded on day and on the day after.
func (d *days) between(day int) float64 { return (d.reminded(day) + d.reminded(day+1)) / 2 }

// last is the last day at which risk, which rises, is accepted; -1 when none is, horizonDays when all are.
func (d *days) last(risk func(day int) float64) int {
	n := sort.Search(horizonDays, func(day int) bool { return d.err != nil || risk(day) > d.p.Risk })
	if n == horizonDays {
		return n
	}
	return n - 1
}
