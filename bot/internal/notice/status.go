package notice

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tarebell/forecast/unit"
)

// statusLines bounds a weekly status under its headline: six lines in all. What changed since the last one keeps its place.
const statusLines = 5

// Status is the weekly status; due is when it was meant to come.
func (v Voice) Status(s Situation, key string) Notice {
	n := Notice{Key: key, Kind: WeeklyStatus, Cylinder: s.Cylinder, At: s.Now, Headline: v.Lasts(s)}
	if s.Outlook.Learned {
		n.Picture = &s
	}
	changed := s.Changed[:min(len(s.Changed), statusLines/2)]
	if s.Decision.Say == WeighDue { // one post for both
		n.Kind, n.Headline = WeighDue, v.weighRequest(s)
		n.Body = append(lines(v.Lasts(s), v.Spread(s)), changed...)
		return n
	}
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
	case !o.Known && !s.Doubted.At.IsZero():
		return fmt.Sprintf("Nothing is known yet about the gas%s: the scale says %s, which cannot be this cylinder.", s.what(), v.Exact(s.Doubted.Gross))
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
	case !o.Learned && s.unweighed():
		return fmt.Sprintf("%s: enough until %s if your own guess holds.", left, v.around(s.Now, unit.Days(p50)))
	case !o.Learned:
		return fmt.Sprintf("%s: enough until %s, going by your guess and the first weights.", left, v.around(s.Now, unit.Days(p50)))
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

// Reasons says why, most useful line first.
func (v Voice) Reasons(s Situation) []string {
	var lines []string
	add := func(line string) {
		if line != "" {
			lines = append(lines, line)
		}
	}
	if !s.Outlook.Known {
		if len(s.Unlisted) > 0 {
			return append(lines, fmt.Sprintf("There are weights of %s, which the config does not name. If it was only renamed, give it its old name there.", and(s.Unlisted)))
		}
		if !s.Doubted.At.IsZero() {
			return append(lines, v.unbelieved(s)...)
		}
		return append(lines, "Type what the scale says, for example “"+v.Exact(24_600)+"”, or wait for the scale's first reading.")
	}
	add(v.silent(s))
	add(v.doubted(s))
	add(v.losing(s))
	add(v.Spread(s))
	add(v.use(s))
	add(v.toBook(s))
	add(v.fizz(s))
	return lines
}

// losing reminds of a loss that was told and goes on.
func (v Voice) losing(s Situation) string {
	if len(s.Losses) == 0 {
		return ""
	}
	l := s.Losses[len(s.Losses)-1]
	if l.To.Before(s.Now) {
		return ""
	}
	return fmt.Sprintf("Gas is still leaving without being used, about %s since %s; that is counted in.", v.Small(l.Mass), v.Day(l.From, s.Now))
}

func (v Voice) doubted(s Situation) string {
	if s.Doubted.At.IsZero() {
		return ""
	}
	return fmt.Sprintf("The last reading, %s at %s, does not fit and is not counted so far.", v.Exact(s.Doubted.Gross), v.Moment(s.Doubted.At, s.Now))
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
	from, to := v.between(s.Now, lo, hi, min(g, byYear), g)
	if from == to || grainOf(lo) == never {
		return ""
	}
	line := fmt.Sprintf("Four times out of five it ends between %s and %s.", from, to)
	switch {
	case !o.Learned && s.unweighed():
		line += " That rests on your guess; the weights will replace it within some weeks."
	case !o.Learned:
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
	line := fmt.Sprintf("You use about %s a day", v.Small(unit.Grams(o.Use.Mean)))
	if s.GramsPerLitre > 0 {
		line += fmt.Sprintf(" (%s); what is left makes about %s",
			litres(o.Use.Mean/s.GramsPerLitre), litres(float64(s.usable())/s.GramsPerLitre))
	}
	return line + v.weekChange(s) + "."
}

// weekChange speaks up only when this week's use was clearly unlike that of the one before.
func (v Voice) weekChange(s Situation) string {
	week := unit.Days(7)
	a := float64(s.Week - s.lost(0, week))
	b := float64(s.WeekPrev - s.lost(week, 2*week))
	if math.IsNaN(a) || math.IsNaN(b) || b < 20 || a < 0 {
		return ""
	}
	switch r := a / b; {
	case r > 1.4:
		return fmt.Sprintf("; this week %s, last week %s", v.Small(unit.Grams(a)), v.Small(unit.Grams(b)))
	case r < 0.6:
		return fmt.Sprintf("; this week only %s, last week %s", v.Small(unit.Grams(a)), v.Small(unit.Grams(b)))
	}
	return ""
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
