package notice

import (
	"fmt"
	"math"
	"slices"
	"strings"
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
	Due           bool      // and that is today
	Arrives       time.Time // when a refill booked at the first chance would come
	Booked        time.Time // the refill is booked for that day; zero: it is not
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
	Spare        bool       // this cylinder waits its turn
	Rest         unit.Grams // net gas of one that waits; 0: unknown
	FullSpare    string     // a full one that waits; empty: none
	Fill         Fill       // the present one
	House        unit.Grams // gross of the empty cylinder with its fittings
	Answers      []Answered
	Serving      unit.Grams  // as the household plans with; 0: unknown
	Litres       unit.Litres // of drink in a serving; 0: unknown

	LastGross unit.Grams // by the last weighing, its scatter taken out; 0: unknown
	Week      unit.Grams // used in the last seven days; NaN: unknown
	WeekPrev  unit.Grams // in the seven before
	Silent    time.Time  // the last weighing, when it is worryingly old; zero: it is not
	History   []forecast.Day
	Losses    []Lost    // told losses, oldest first; the last may go on
	Filled    time.Time // start of the present fill
	Before    Told      // what the last weekly status said
	Changed   []string  // what else changed since the last status, ready to read
}

// Lost is gas that went from From to To and was not use.
type Lost struct {
	From, To time.Time
	Mass     unit.Grams
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

// adrift reports that the weighings are old and the use is not known at all, so that what is left is anybody's guess.
func (s Situation) adrift() bool {
	o := s.Outlook
	return !o.Learned && !s.Guess && s.LastGross > 0 && s.Now.Sub(o.LastSeen) > 7*24*time.Hour && o.Gas.SD > 0.2*float64(s.LastGross-s.House)
}

// statusLines bounds a weekly status under its headline: six lines in all. What changed since the last one keeps its place.
const statusLines = 5

// Status is the weekly status; due is when it was meant to come.
func (v Voice) Status(s Situation, key string) Notice {
	n := Notice{Key: key, Kind: WeeklyStatus, Cylinder: s.Cylinder, At: s.Now, Headline: v.Lasts(s)}
	if s.Outlook.Learned {
		n.Picture = &s
	}
	changed := s.Changed[:min(len(s.Changed), statusLines/2)]
	n.Body = v.news(s)
	n.Body = append(n.Body[:min(len(n.Body), statusLines-len(changed))], changed...)
	return n
}

// Lasts answers "how much is left, and until when" in one line.
func (v Voice) Lasts(s Situation) string {
	o := s.Outlook
	switch {
	case s.Spare:
		return v.waits(s)
	case !o.Known:
		return fmt.Sprintf("Nothing is known yet about the gas%s: no weight has come in.", s.what())
	}
	left := fmt.Sprintf("%s of gas left%s", v.Mass(s.usable()), s.what())
	p50 := math.Inf(1)
	if o.RunOut.Known() {
		p50 = float64(o.RunOut.Quantile(0.5))
	}
	switch {
	case s.adrift():
		return fmt.Sprintf("%s held %s of gas on %s; what is left now cannot be told before it is weighed again.", s.the(),
			v.Mass(max(0, s.LastGross-s.House-o.Heel)), v.Day(o.LastSeen, s.Now))
	case s.usable() <= 0:
		return fmt.Sprintf("%s is about empty.", s.the())
	case !o.Learned && !s.Guess:
		return left + "; too early to say how long it lasts."
	case !o.Learned:
		return fmt.Sprintf("%s: enough until %s if your own guess holds.", left, v.around(s.Now, unit.Days(p50)))
	case math.IsInf(p50, 1) || p50 > 20*365:
		return left + ": enough for more than 20 years as you drink now."
	default:
		return fmt.Sprintf("%s: enough until about %s.", left, v.around(s.Now, unit.Days(p50)))
	}
}

// Told is what the last weekly status said that need not be said again.
type Told struct {
	Spread, Book, Fizz string
	Use                float64 // g/day; 0: not yet
}

// Told is what a status says of s.
func (v Voice) Told(s Situation) Told {
	t := Told{Spread: v.Spread(s), Book: v.toBook(s), Fizz: v.fizz(s)}
	if s.Outlook.Learned {
		t.Use = s.Outlook.Use.Mean
	}
	return t
}

// sameUse is by what share the use may differ from what was told and count as unchanged.
const sameUse = 0.1

// news are the reasons without those that stand as they were told last week. What is to be done is said again.
func (v Voice) news(s Situation) []string {
	t := v.Told(s)
	old := func(line string) bool {
		switch line {
		case t.Spread:
			return t.Spread == s.Before.Spread
		case t.Fizz:
			return t.Fizz == s.Before.Fizz
		case t.Book:
			return t.Book == s.Before.Book && strings.HasPrefix(line, nothingToBook)
		case v.use(s):
			return s.Before.Use > 0 && math.Abs(t.Use/s.Before.Use-1) < sameUse && v.weekChange(s) == ""
		}
		return false
	}
	return slices.DeleteFunc(v.Reasons(s), old)
}

// nothingToBook begins the line that asks for nothing.
const nothingToBook = "Nothing to book before "

// Reasons says why, most useful line first.
func (v Voice) Reasons(s Situation) []string {
	var lines []string
	add := func(line string) {
		if line != "" {
			lines = append(lines, line)
		}
	}
	if !s.Outlook.Known {
		return append(lines, "Type what the scale says, for example “"+v.Exact(24_600)+"”, or wait for the scale's first reading.")
	}
	add(v.silent(s))
	add(v.Spread(s))
	add(v.use(s))
	add(v.toBook(s))
	add(v.fizz(s))
	return lines
}

func (v Voice) silent(s Situation) string {
	if s.Silent.IsZero() {
		return ""
	}
	return fmt.Sprintf("The last weight is from %s, so this is an estimate; a fresh one would help.", v.Moment(s.Silent, s.Now))
}

// Spread tells the middle 80 % of the run-out dates.
func (v Voice) Spread(s Situation) string {
	o := s.Outlook
	if !o.RunOut.Known() || (!o.Learned && !s.Guess) {
		return ""
	}
	lo, hi := o.RunOut.Quantile(0.1), o.RunOut.Quantile(0.9)
	g := grainOf(hi)
	from, to := v.date(s.Now, lo, min(g, byYear)), v.date(s.Now, hi, g)
	if from == to || grainOf(lo) == never {
		return ""
	}
	line := fmt.Sprintf("Four times out of five it ends between %s and %s.", from, to)
	if !o.Learned {
		line += " That rests on your guess; the weights will replace it within some weeks."
	}
	return line
}

// use tells the household's way of drinking, in litres where a litre is known.
func (v Voice) use(s Situation) string {
	o := s.Outlook
	if !o.Learned {
		return ""
	}
	line := fmt.Sprintf("You use about %s a day", v.small(unit.Grams(o.Use.Mean)))
	if s.GramsPerLitre > 0 {
		line += fmt.Sprintf(" (%s); what is left makes about %s",
			litres(o.Use.Mean/s.GramsPerLitre), litres(float64(s.usable())/s.GramsPerLitre))
	}
	return line + v.weekChange(s) + "."
}

// weekChange speaks up only when this week was clearly unlike the one before.
func (v Voice) weekChange(s Situation) string {
	a, b := float64(s.Week), float64(s.WeekPrev)
	if math.IsNaN(a) || math.IsNaN(b) || b < 20 || a < 0 {
		return ""
	}
	switch r := a / b; {
	case r > 1.4:
		return fmt.Sprintf("; this week %s, last week %s", v.small(s.Week), v.small(s.WeekPrev))
	case r < 0.6:
		return fmt.Sprintf("; this week only %s, last week %s", v.small(s.Week), v.small(s.WeekPrev))
	}
	return ""
}

func (v Voice) toBook(s Situation) string {
	switch {
	case !s.Booked.IsZero() && s.Carrier != "":
		return fmt.Sprintf("The refill is booked for %s; %s sees to it.", v.Day(s.Booked, s.Now), s.Carrier)
	case !s.Booked.IsZero():
		return fmt.Sprintf("The refill is booked for %s.", v.Day(s.Booked, s.Now))
	case s.BookBy.IsZero() || !s.Outlook.Learned && !s.Guess && s.BookBy.After(s.Now):
		return ""
	}
	switch days := calendarDays(s.Now.In(v.Zone), s.BookBy.In(v.Zone)); {
	case days <= 0:
		return "The refill should be booked now."
	case days <= 21:
		return fmt.Sprintf("Book the refill by %s.", v.Day(s.BookBy, s.Now))
	case days <= 120:
		return fmt.Sprintf(nothingToBook+"%s.", v.around(s.Now, unit.Days(days)))
	default:
		return ""
	}
}

// fizz warns, when it is near, of the moment the last liquid is gone and the pressure starts to fall.
func (v Voice) fizz(s Situation) string {
	o := s.Outlook
	if !o.LiquidDry.Known() || !o.Learned {
		return ""
	}
	switch d := o.LiquidDry.Quantile(0.5); {
	case o.Gas.Mean <= float64(o.DryMass):
		return "The liquid is gone: pressure, and fizz, fall from here on."
	case d < 21:
		return fmt.Sprintf("From about %s the pressure starts to fall and carbonating takes longer.", v.around(s.Now, d))
	}
	return ""
}

// Refill says that it is time to book. again counts the reminders already given for this fill.
func (v Voice) Refill(s Situation, key, follows string, again int) Notice {
	n := Notice{Key: key, Follows: follows, Kind: RefillDue, Cylinder: s.Cylinder, At: s.Now, Severity: Warning, Picture: &s}
	today := v.Day(s.Now, s.Now)
	switch {
	case s.usable() <= 0 && s.adrift():
		n.Headline = fmt.Sprintf("%s may be about empty, and no refill is booked.", s.the())
	case s.usable() <= 0:
		n.Headline = fmt.Sprintf("%s is about empty, and no refill is booked.", s.the())
	case again == 0 && calendarDays(s.Now.In(v.Zone), s.BookBy.In(v.Zone)) > 0:
		n.Headline = fmt.Sprintf("Time to book the refill%s: %s is the first day the supplier is open.", s.of(), v.Day(s.BookBy, s.Now))
	case again == 0:
		n.Headline = fmt.Sprintf("Time to book the refill%s: today, %s, is the last good day.", s.of(), today)
	default:
		n.Headline = fmt.Sprintf("The refill%s is still not booked; it should have been by now.", s.of())
	}
	if o := s.Outlook; o.RunOut.Known() && s.usable() > 0 {
		n.Body = append(n.Body, fmt.Sprintf("%s of gas is left, until about %s, perhaps only until %s; a refill takes %s.",
			v.Mass(s.usable()), v.around(s.Now, o.RunOut.Quantile(0.5)), v.around(s.Now, o.RunOut.Quantile(0.05)), plural(float64(s.LeadDays), "day")))
	}
	if stale := v.stale(s); stale != "" {
		n.Body = append(n.Body, stale)
	}
	who := ""
	if s.Carrier != "" {
		who = s.Carrier + " said they would see to it."
	}
	n.Body = append(n.Body, lines(who, v.turn(s), v.closures(s), v.supplier(s), v.bring(s), v.retestLine(s), v.carry(s))...)
	n.Actions = []Action{
		{"mine:" + s.Cylinder, "I'll see to it"},
		{"booked:" + s.Cylinder, "It's booked…"},
		{"later:" + s.Cylinder, "Remind us in 2 days"},
	}
	return n
}

// stale says that a weight may show that there is time, where the fear of running dry comes from not knowing.
func (v Voice) stale(s Situation) string {
	old := s.Now.Sub(s.Outlook.LastSeen) > 7*24*time.Hour
	switch {
	case old:
		return fmt.Sprintf("The last weight is from %s; a fresh one may show that there is still time.", v.Moment(s.Outlook.LastSeen, s.Now))
	case !s.Outlook.Learned:
		return "Your use is not known well yet; a weight every few days may show that there is still time."
	}
	return ""
}

// carry: the 23 kg (51 lb) load constant of the revised NIOSH lifting equation (Waters et al. 1993) is the
// most it recommends for one person under the best conditions.
func (v Voice) carry(s Situation) string {
	help := "within what one person may lift, held close"
	switch c := refill.CarryHelp(s.GrossFull); {
	case c.HandTruck:
		help = "for a hand truck"
	case c.Persons > 1:
		help = "two people or a hand truck"
	}
	return fmt.Sprintf("Full it weighs about %s, empty about %s: %s. Upright, cap on, never in a closed or hot car.",
		v.Mass(s.GrossFull), v.Mass(s.GrossEmpty), help)
}
