package notice

import (
	"fmt"
	"math"

	"tarebell/forecast/unit"
)

// statusLines bounds a weekly status under its headline: six lines in all. What changed since the last one keeps its place.
const statusLines = 5

// Status is the weekly status.
func (v Voice) Status(s Situation) Notice {
	changed := s.Changed[:min(len(s.Changed), statusLines/2)]
	body := v.reasons(s, s.Stated)
	n := s.notice(WeeklyStatus, v.GasLeft(s), body[:min(len(body), statusLines-len(changed))]...)
	if s.Decision.Say == WeighDue { // one post for both
		n = s.notice(WeighDue, v.weighRequest(s), v.GasLeft(s), v.Spread(s))
	}
	if s.Outlook.Learned {
		n.Picture = &s
	}
	n.Body = append(n.Body, changed...)
	return n
}

// GasLeft answers "how much is left, and until when" in one line.
func (v Voice) GasLeft(s Situation) string {
	o := s.Outlook
	switch {
	case s.Spare:
		return v.waits(s)
	case !o.Known && !s.Doubted.At.IsZero():
		return fmt.Sprintf("Nothing is known yet about the gas%s: the scale says %s, which cannot be this cylinder.", s.in(), v.Exact(s.Doubted.Gross))
	case !o.Known:
		return fmt.Sprintf("Nothing is known yet about the gas%s: no weight has come in.", s.in())
	case !s.Dry.IsZero():
		return fmt.Sprintf("%s ran dry at %s: no usable gas is left.", s.the(), v.Moment(s.Dry, s.Now))
	case s.ended():
		return fmt.Sprintf("%s is probably empty by now: it held %s of gas on %s.", s.the(), v.lastHeld(s), v.Day(o.LastSeen, s.Now))
	case s.adrift():
		return fmt.Sprintf("%s held %s of gas on %s; what is left now cannot be told before it is weighed again.", s.the(),
			v.lastHeld(s), v.Day(o.LastSeen, s.Now))
	case v.empty(s):
		return fmt.Sprintf("%s is about empty.", s.the())
	}
	left := fmt.Sprintf("%s of gas left%s", v.Mass(s.usable()), s.in())
	p50 := unit.Days(math.Inf(1))
	if o.RunOut.Known() {
		p50 = o.RunOut.Quantile(0.5)
	}
	if from, to, ok := v.ends(s); ok && s.spanned() {
		a, b := v.between(from, to, s.Now)
		return fmt.Sprintf("%s: enough until some time between %s and %s.", left, a, b)
	}
	switch until := v.around(s.Now, p50); {
	case !s.Datable():
		return left + "; too early to say how long it lasts."
	case !o.Learned && s.unweighed():
		return fmt.Sprintf("%s: enough until %s if your own guess holds.", left, until)
	case !o.Learned:
		return fmt.Sprintf("%s: enough until %s, going by your guess and the first weights.", left, until)
	case grainOf(p50) == never:
		return left + ": enough for more than 20 years as you drink now."
	default:
		return fmt.Sprintf("%s: enough until about %s.", left, until)
	}
}

// empty reports that what is left is nothing as it is read.
func (v Voice) empty(s Situation) bool { return v.Mass(s.usable()) == v.Mass(0) }

// lastHeld is the usable gas when it was last weighed.
func (v Voice) lastHeld(s Situation) string {
	return v.Mass(max(0, s.LastGross-s.House-s.Outlook.Heel))
}

// Statement is what a weekly status said that need not be said again.
type Statement struct {
	ends [2]date // the span of run-out dates
	book date    // before which there is nothing to book
	fizz fading
	use  float64 // g/day; 0: not yet
	more bool    // than of any fill before is used
}

// Statement is what a status says of s.
func (v Voice) Statement(s Situation) (t Statement) {
	t.ends[0], t.ends[1], _ = v.ends(s)
	t.book, _ = v.nothingToBook(s)
	t.fizz = v.fading(s)
	t.more = v.recordFill(s) != ""
	if s.Outlook.Learned {
		t.use = s.Outlook.Use.Mean
	}
	return t
}

// sameUse is by what share the use may differ from what was stated and count as unchanged.
const sameUse = 0.1

// Reasons says why, most useful line first.
func (v Voice) Reasons(s Situation) []string { return v.reasons(s, Statement{}) }

// reasons leaves out what is as it was stated before. What is to be done is said again.
func (v Voice) reasons(s Situation, before Statement) []string {
	switch {
	case s.Outlook.Known:
	case len(s.Unlisted) > 0:
		return []string{fmt.Sprintf("There are weights of %s, which the config does not name. If it was only renamed, give it its old name there.", and(s.Unlisted))}
	case !s.Doubted.At.IsZero():
		return v.unbelieved(s)
	default:
		return []string{"Type what the scale says, for example “" + v.Exact(24_600) + "”, or wait for the scale's first reading."}
	}
	switch {
	case !s.Dry.IsZero():
		return lines(v.toBook(s), "Say /filled when the refill is there, or type what the scale says.")
	case s.ended():
		return []string{"A weight would tell, or “it ran dry”.", v.toBook(s)}
	}
	now := v.Statement(s)
	spread, use, book, fizz := v.Spread(s), v.use(s), v.toBook(s), v.fizz(s)
	if now.ends == before.ends && (now.use > 0) == (before.use > 0) { // that a guess has been replaced is told
		spread = ""
	}
	if before.use > 0 && math.Abs(now.use/before.use-1) < sameUse && v.weekChange(s) == "" {
		use = ""
	}
	if now.book == before.book && now.book != (date{}) {
		book = ""
	}
	if now.fizz == before.fizz {
		fizz = ""
	}
	record := v.recordWeek(s)
	if fill := v.recordFill(s); fill != "" && record == "" && !before.more {
		record, use = fill, ""
	}
	return lines(
		when(!s.Silent.IsZero(), "The last weight is from %s, so this is an estimate; a fresh one would help.", v.Moment(s.Silent, s.Now)),
		when(!s.Doubted.At.IsZero(), "The last reading, %s at %s, does not fit and is not counted so far.", v.Exact(s.Doubted.Gross), v.Moment(s.Doubted.At, s.Now)),
		v.losing(s), record, spread, use, book, fizz)
}

// recordWeek tells of a week in which far more was used than in any before: the household knows whether it drew that much, a scale that scatters
// does not.
func (v Voice) recordWeek(s Situation) string {
	const least = 150 // g, an evening with guests
	used := s.Used()
	if s.WeekMost == 0 || !(used > far*s.WeekMost && used > s.WeekMost+least) { // or NaN
		return ""
	}
	return fmt.Sprintf("More went than in any week before: %s, where it was %s at most. If nobody drew that much, look for a leak: soapy water on the fittings shows it.",
		v.Small(used), v.Small(s.WeekMost))
}

// far is by what factor more than ever before must be used to be worth a word. Ours.
const far = 1.5

// recordFill is the same of whole fills, for what goes on for weeks, and for weights that are typed days apart.
func (v Voice) recordFill(s Situation) string {
	use := s.Outlook.Use
	if s.FillMost == 0 || !s.Outlook.Learned || use.Mean-use.SD < far*float64(s.FillMost) {
		return ""
	}
	return fmt.Sprintf("You use about %s a day now; of no fill before was it more than %s. If nobody drinks more, look for a leak: soapy water on the fittings shows it.",
		v.Small(unit.Grams(use.Mean)), v.Small(s.FillMost.Over(1)))
}

// losing reminds of a loss that was told and goes on.
func (v Voice) losing(s Situation) string {
	if len(s.Losses) == 0 {
		return ""
	}
	l := s.Losses[len(s.Losses)-1]
	return when(!l.To.Before(s.Now), "Gas is still leaving without being used, about %s since %s; that is counted in.", v.Small(l.Mass), v.Day(l.From, s.Now))
}

// ends is the middle 80 % of the run-out dates; ok is false if they cannot be told or are the same.
func (v Voice) ends(s Situation) (from, to date, ok bool) {
	o := s.Outlook
	if !o.RunOut.Known() || !s.Datable() || s.usable() <= 0 {
		return from, to, false
	}
	lo, hi := o.RunOut.Quantile(0.1), o.RunOut.Quantile(0.9)
	g := grainOf(hi)
	from, to = v.date(s.Now, lo, max(g, byYear)), v.date(s.Now, hi, g)
	if from == to || grainOf(lo) == never {
		return date{}, date{}, false
	}
	return from, to, true
}

// Spread tells the middle 80 % of the run-out dates.
func (v Voice) Spread(s Situation) string {
	lo, hi, ok := v.ends(s)
	switch {
	case !ok:
		return ""
	case s.spanned():
		return "That holds four times out of five."
	}
	from, to := v.between(lo, hi, s.Now)
	line := fmt.Sprintf("Four times out of five it ends between %s and %s.", from, to)
	switch {
	case s.Outlook.Learned:
	case s.unweighed():
		line += " That rests on your guess; the weights will replace it within some weeks."
	default:
		line += " A few more weeks of weights will make that surer."
	}
	return line
}

// use tells the household's way of drinking, in litres where a litre is known.
func (v Voice) use(s Situation) string {
	o := s.Outlook
	if !o.Learned {
		return ""
	}
	return fmt.Sprintf("You use about %s a day", v.Small(unit.Grams(o.Use.Mean))) +
		when(s.GramsPerLitre > 0, " (%s)", litres(o.Use.Mean/s.GramsPerLitre)) +
		when(s.GramsPerLitre > 0 && !v.empty(s), "; what is left makes about %s", litres(float64(s.usable())/s.GramsPerLitre)) +
		v.weekChange(s) + "."
}

// week is the time from one weekly status to the next.
const week = unit.Days(7)

// weekChange speaks up only when this week's use was clearly unlike that of the one before.
func (v Voice) weekChange(s Situation) string {
	a, b := s.Used(), s.WeekPrev-s.lost(week, 2*week)
	if !(b >= 20 && a >= 0) || v.recordWeek(s) != "" { // or NaN
		return ""
	}
	r := a / b
	return when(r > 1.4 || r < 0.6, "; this week %s%s, last week %s", when(r < 1, "only "), v.Small(a), v.Small(b))
}

// fading is how the pressure stands: nothing to tell, to fall from a day that is near, or falling.
type fading struct {
	falls bool
	from  date
}

func (v Voice) fading(s Situation) (f fading) {
	o := s.Outlook
	if !o.LiquidDry.Known() || !o.Learned {
		return f
	}
	d := o.LiquidDry.Quantile(0.5)
	switch {
	case o.Gas.Mean <= float64(o.DryMass):
		f.falls = true
	case d < 21:
		f.from = v.date(s.Now, d, byDay)
	}
	return f
}

// fizz warns, when it is near, of the moment the last liquid is gone and the pressure starts to fall.
func (v Voice) fizz(s Situation) string {
	switch f := v.fading(s); f {
	case fading{}:
		return ""
	case fading{falls: true}:
		return "The liquid is gone: pressure, and fizz, fall from here on."
	default:
		return fmt.Sprintf("From about %s the pressure starts to fall and carbonating takes longer.", v.read(f.from, s.Now))
	}
}

// Weekly is the line above the picture of the weeks.
func (v Voice) Weekly(s Situation) string {
	if !s.Outlook.Known || !s.Outlook.Learned {
		return "What you use in a week is still being learned"
	}
	return "About " + v.Mass(unit.GramsPerDay(s.Outlook.Use.Mean).Over(7)) + " in a week as you live now"
}

// sameGas is how far gas told and gas weighed may be apart without a word, as a share of a fill: less is lost in the rounding.
const sameGas = 0.02

// WeighedUp says why less or more gas is told than the weight alone would show; "" when it is the same.
func (v Voice) WeighedUp(s Situation, gross unit.Grams, net bool) string {
	alone := gross - s.House
	usable := alone - s.Outlook.Heel
	told := v.Mass(s.usable())
	switch {
	case !s.Outlook.Known:
		return ""
	case v.Mass(usable) != told && usable > 0 && (net || math.Abs(float64(usable-s.usable())) > sameGas*float64(s.GrossFull-s.GrossEmpty)):
		return "By this weight alone it would be " + v.Mass(usable) + "; weights are weighed up against each other."
	case net && v.Mass(alone) != told:
		return "The last " + v.Small(s.Outlook.Heel) + " are too thin to carbonate, so they are left out."
	}
	return ""
}
