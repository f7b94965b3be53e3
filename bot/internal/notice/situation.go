package notice

import (
	"math"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/refill"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Place is the cylinder that something is told of, and when.
type Place struct {
	Cylinder string
	Named    bool // the household has several: say which
	Now      time.Time
}

// Situation is all there is to tell about a cylinder at one moment.
type Situation struct {
	Place
	Content
	Refill
	Lately
	Fill    Fill           // the present one
	Answers []record.Event // to what was told, the last ones
	Serving unit.Grams     // as the household plans with; 0: unknown
	Litres  unit.Litres    // of drink in a serving; 0: unknown
}

// Content is what is in the cylinder.
type Content struct {
	Outlook       forecast.Outlook
	Guess         bool       // the household told how much it drinks
	GramsPerLitre float64    // of drink; 0: unknown
	House         unit.Grams // gross of the empty cylinder with its fittings
	GrossFull     unit.Grams // of what is carried: without the fittings
	GrossEmpty    unit.Grams
	LastGross     unit.Grams // by the last weighing, its scatter taken out; 0: unknown
	Doubted       Reading    // the last reading, if it is not believed; zero: it is
	Silent        time.Time  // the last weighing, when it is worryingly old; zero: it is not
	Unlisted      []string   // cylinders that weights came of and the config does not name
	Dry           time.Time  // when it was said to have run dry; zero: it was not, since the last fill
	Spare         bool       // this cylinder waits its turn
	SpareNet      unit.Grams // net gas of one that waits; 0: unknown
}

// Refill is how getting the refill stands.
type Refill struct {
	refill.Plan
	Decision     Decision  // of the last review
	ActsIn       int       // days after a reminder within which people here book, half of the times
	LeadDays     int       // from booking to arrival
	LeadBookings int       // from how many past bookings LeadDays is learned
	Booked       time.Time // the refill is booked for that day; zero: it is not
	BookedBy     string
	Revision     int       // how often the booked day was moved
	Missed       time.Time // it was booked for that day and did not come; zero: it was not
	Carrier      string    // who said they would do it
	Turns        []Turn    // who could do it, least lately first; empty: not kept
	Helpers      []string  // who can carry, but Carrier
	Supplier     string
	Swap         bool      // the supplier swaps the cylinder
	Closures     []Closure // of the supplier, until a refill could be here
	Retest       refill.Standing
	RetestDue    time.Time
	FullSpare    string // a full cylinder that waits; empty: none
}

// Lately is what went on in the present fill, and in the time since the last weekly status.
type Lately struct {
	Filled   time.Time // start of the present fill
	History  []forecast.Day
	Losses   []Lost           // told losses, oldest first; the last may go on
	Week     unit.Grams       // gone in the last seven days, used or lost; NaN: unknown
	WeekPrev unit.Grams       // in the seven before
	WeekMost unit.Grams       // used in any of the weeks before, on a scale that was read all the time; 0: too few to tell
	FillMost unit.GramsPerDay // used of any of the fills before; 0: too few to tell
	Stated   Statement        // what the last weekly status said
	Changed  []string         // what else changed since then, ready to read
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

// Used is what went this week and was not lost, as far as is known; NaN unknown.
func (s Situation) Used() unit.Grams { return s.Week - s.lost(0, week) }

// which names the cylinder after some words, such as " in cylinder ", if the household has several.
func (p Place) which(words string) string { return when(p.Named, "%s%s", words, p.Cylinder) }

func (p Place) in() string { return p.which(" in cylinder ") }
func (p Place) of() string { return p.which(" of cylinder ") }

// the begins a sentence about the cylinder.
func (p Place) the() string {
	if p.Named {
		return "Cylinder " + p.Cylinder
	}
	return "The cylinder"
}

// notice is one about the cylinder. Empty lines of the body are left out.
func (p Place) notice(kind Kind, headline string, body ...string) Notice {
	return Notice{Kind: kind, Cylinder: p.Cylinder, At: p.Now, Headline: headline, Body: lines(body...)}
}

// usable is the gas that can be drawn, as far as is known; somebody who says that it ran dry knows.
func (c Content) usable() unit.Grams {
	if !c.Dry.IsZero() {
		return 0
	}
	return unit.Grams(math.Max(0, c.Outlook.Gas.Mean-float64(c.Outlook.Heel)))
}

// Datable reports that dates can be told: the use is learned, the household guessed it, or a span of dates says enough.
func (c Content) Datable() bool { return c.Outlook.Learned || c.Guess || c.spanned() }

// spanned reports that the use is not learned, yet the middle 80 % of the run-out dates is worth telling. So it stays for months where a bathroom scale weighs
// a small cylinder.
func (c Content) spanned() bool {
	const widest = 5 // times as far ahead as it begins; ours
	o := c.Outlook
	return !o.Learned && o.RunOut.Known() && o.Watched >= week && o.RunOut.Quantile(0.9) <= widest*o.RunOut.Quantile(0.1)
}

// unweighed reports that there are no weights yet that could show any use: the household's guess stands alone.
func (c Content) unweighed() bool { return c.Outlook.Watched < 1 }

// old reports that the last weight is of last week or before.
func (s Situation) old() bool { return s.Now.Sub(s.Outlook.LastSeen) > 7*24*time.Hour }

// ended reports that the gas most likely ran out since the last weight, and that nobody said so.
func (s Situation) ended() bool { return s.old() && s.Outlook.Ended > 0.5 && s.Dry.IsZero() }

// adrift reports that the weighings are old and the use is not known at all, so that what is left is anybody's guess.
func (s Situation) adrift() bool {
	return !s.Datable() && s.LastGross > 0 && s.old() && s.Outlook.Gas.SD > 0.2*float64(s.LastGross-s.House)
}
