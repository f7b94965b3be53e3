package notice

import (
	"math"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
)

// Situation is what there is to tell about a cylinder at one moment.
type Situation struct {
	Cylinder string
	Named    bool // the household has several: say which
	Now      time.Time
	Outlook  forecast.Outlook
	Guess    bool // the household told how much it drinks

	GramsPerLitre float64   // of drink; 0: unknown
	BookBy        time.Time // last good moment to book; zero: none can be seen
	Plan          refill.Plan
	Due           bool      // and a reminder can wait no longer
	ActsIn        int       // days after a reminder within which people here book, half of the times
	Decision      Decision  // of the last look
	Arrives       time.Time // when a refill booked at the first chance would come
	Booked        time.Time // the refill is booked for that day; zero: it is not
	Missed        time.Time // it was booked for that day and did not come; zero: it was not
	Carrier       string    // who said they would do it
	LeadDays      int
	GrossFull     unit.Grams
	GrossEmpty    unit.Grams

	BookedBy     string
	Revision     int       // how often the booked day was moved
	LeadBookings int       // from how many past bookings LeadDays is learned
	ComesOn      time.Time // if booked at the first chance; zero: unknown
	RiskNow      float64   // of running dry before a refill booked at the first chance; NaN unknown
	RiskLater    float64   // and at the chance after that
	Closures     []Closure // of the supplier, until a refill could be here
	Supplier     string
	Swap         bool // the supplier swaps the cylinder
	Retest       refill.Standing
	RetestDue    time.Time
	Turns        []Turn     // who could do it, least lately first; empty: not kept
	Helpers      []string   // who can carry, but Carrier
	Dry          time.Time  // when it was said to have run dry; zero: it was not, since the last fill
	Spare        bool       // this cylinder waits its turn
	Rest         unit.Grams // net gas of one that waits; 0: unknown
	FullSpare    string     // a full one that waits; empty: none
	Fill         Fill       // the present one
	House        unit.Grams // gross of the empty cylinder with its fittings
	Answers      []Answered
	Serving      unit.Grams  // as the household plans with; 0: unknown
	Litres       unit.Litres // of drink in a serving; 0: unknown

	LastGross unit.Grams // by the last weighing, its scatter taken out; 0: unknown
	Week      unit.Grams // gone in the last seven days, used or lost; NaN: unknown
	WeekPrev  unit.Grams // in the seven before
	Doubted   Reading    // the last reading, if it is not believed; zero: it is
	Unlisted  []string   // cylinders that weights came of and the config does not name
	Silent    time.Time  // the last weighing, when it is worryingly old; zero: it is not
	History   []forecast.Day
	Losses    []Lost    // told losses, oldest first; the last may go on
	Filled    time.Time // start of the present fill
	Before    Told      // what the last weekly status said
	Changed   []string  // what else changed since the last status, ready to read
}

// Reading is what a scale said.
type Reading struct {
	At    time.Time
	Gross unit.Grams
}

// Lost is gas that went from From to To and was not use.
type Lost struct {
	From, To time.Time
	Mass     unit.Grams
}

// lost is what told losses took between newest and oldest days ago.
func (s Situation) lost(newest, oldest unit.Days) unit.Grams {
	sum := unit.Grams(0)
	for _, l := range s.Losses {
		all := unit.Between(l.From, l.To)
		within := min(oldest, unit.Between(l.From, s.Now)) - max(newest, unit.Between(l.To, s.Now))
		if all > 0 && within > 0 {
			sum += l.Mass * unit.Grams(within/all)
		}
	}
	return sum
}

func (s Situation) what() string {
	if s.Named {
		return " in cylinder " + s.Cylinder
	}
	return ""
}

// of names the cylinder whose refill it is.
func (s Situation) of() string {
	if s.Named {
		return " of cylinder " + s.Cylinder
	}
	return ""
}

// the begins a sentence about the cylinder.
func (s Situation) the() string {
	if s.Named {
		return "Cylinder " + s.Cylinder
	}
	return "The cylinder"
}

func (s Situation) usable() unit.Grams {
	return unit.Grams(math.Max(0, s.Outlook.Gas.Mean-float64(s.Outlook.Heel)))
}

// unweighed reports that there are no weights yet that could show any use: the household's guess stands alone.
func (s Situation) unweighed() bool { return s.Outlook.LastSeen.Sub(s.Outlook.Since) < 24*time.Hour }

// old reports that the last weight is of last week or before.
func (s Situation) old() bool { return s.Now.Sub(s.Outlook.LastSeen) > 7*24*time.Hour }

// adrift reports that the weighings are old and the use is not known at all, so that what is left is anybody's guess.
func (s Situation) adrift() bool {
	o := s.Outlook
	return !o.Learned && !s.Guess && s.LastGross > 0 && s.old() && o.Gas.SD > 0.2*float64(s.LastGross-s.House)
}
