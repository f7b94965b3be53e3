package notice

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tarebell/bot/internal/schedule"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// Voice is how one household is spoken to.
type Voice struct {
	Zone        *time.Location
	unit.System // also of dates: in the US the month comes first
}

// rate is a rate with its standard deviation, neither finer than the latter deserves.
func (v Voice) rate(r, sd unit.GramsPerHour) string {
	if v.System == unit.US {
		return fmt.Sprintf("%.2g ± %.1g oz an hour", float64(r)/unit.GramsPerOunce, math.Max(float64(sd)/unit.GramsPerOunce, 0.01))
	}
	if r < 10 {
		return fmt.Sprintf("%.1f ± %.1f g an hour", float64(r), math.Max(float64(sd), 0.1))
	}
	step := math.Pow(10, math.Max(0, math.Floor(math.Log10(math.Max(float64(sd), 1)/2))))
	return fmt.Sprintf("%s ± %s g an hour", thousands(unit.RoundTo(float64(r), step)), thousands(math.Max(unit.RoundTo(float64(sd), step), 1)))
}

// layouts are how dates and times of day are read.
var layouts = map[unit.System]struct{ day, year, short, clock string }{
	unit.Metric: {"Mon 2 Jan", " 2006", "2 Jan", "15:04"},
	unit.US:     {"Mon Jan 2", ", 2006", "Jan 2", "3:04 pm"},
}

// Day is a calendar date: "Thu 14 May", with the year when it is not now's.
func (v Voice) Day(t, now time.Time) string {
	l, t := layouts[v.System], t.In(v.Zone)
	if t.Year() != now.In(v.Zone).Year() {
		return t.Format(l.day + l.year)
	}
	return t.Format(l.day)
}

// ShortDay is a date without weekday and year: "14 May".
func (v Voice) ShortDay(t time.Time) string { return t.In(v.Zone).Format(layouts[v.System].short) }

// Moment is a time of day, with the date when it is not today's.
func (v Voice) Moment(t, now time.Time) string {
	at := t.In(v.Zone).Format(layouts[v.System].clock)
	switch schedule.DaysBetween(t, now, v.Zone) {
	case 0:
		return at
	case 1:
		return at + " yesterday"
	}
	return at + " on " + v.Day(t, now)
}

// grain is how finely a date is told.
type grain int

const (
	never grain = iota
	byYear
	byMonth
	byThird
	byDay
)

// grainOf is no finer than a forecast d days ahead deserves: the day within two months, a third of a month
// within eight, a month within two years, else the year.
func grainOf(d unit.Days) grain {
	switch {
	case d < 60:
		return byDay
	case d < 240:
		return byThird
	case d < 730:
		return byMonth
	case d <= 20*365:
		return byYear
	}
	return never
}

// date is a date as it is told: two that read alike are equal. The zero date is farther away than can be told.
type date struct {
	text  string // without a year that could be left out
	year  int
	grain grain
}

// date is the date d after now at a given fineness.
func (v Voice) date(now time.Time, d unit.Days, g grain) date {
	t, ok := d.After(now)
	if !ok || g == never {
		return date{}
	}
	t = t.In(v.Zone)
	out := date{t.Month().String(), t.Year(), g}
	switch g {
	case byYear:
		out.text = t.Format("2006")
	case byThird:
		out.text = [...]string{"early ", "mid ", "late "}[min(2, (t.Day()-1)/10)] + out.text
	case byDay:
		out.text = t.Format(layouts[v.System].day)
	}
	return out
}

// read is the date in words. The year is left out when it is now's.
func (v Voice) read(d date, now time.Time) string {
	switch {
	case d == date{}:
		return "more than 20 years from now"
	case d.grain == byYear || d.year == now.In(v.Zone).Year():
		return d.text
	case d.grain == byDay && v.System == unit.US:
		return fmt.Sprintf("%s, %d", d.text, d.year)
	}
	return fmt.Sprintf("%s %d", d.text, d.year)
}

// around is the date d after now, as finely as it deserves.
func (v Voice) around(now time.Time, d unit.Days) string {
	text := v.read(v.date(now, d, grainOf(d)), now)
	if grainOf(d) == byYear {
		text += fmt.Sprintf(" (in about %.0f years)", float64(d)/365.25)
	}
	return text
}

// Around is the moment t, as finely as it deserves now.
func (v Voice) Around(t, now time.Time) string {
	d := unit.Between(now, t)
	return v.read(v.date(now, d, grainOf(d)), now)
}

// between reads two dates, the first one with its year if the second is in another: "between August and September
// 2028" would be a month.
func (v Voice) between(from, to date, now time.Time) (a, b string) {
	a, b = v.read(from, now), v.read(to, now)
	months := from.grain == byThird || from.grain == byMonth
	if months && to != (date{}) && from.year == now.In(v.Zone).Year() && from.year != to.year {
		a += fmt.Sprintf(" %d", from.year)
	}
	return a, b
}

// month is the month of a day that has no zone, with its year.
func month(day time.Time) string { return day.Format("January 2006") }

// span is how long d is in words.
func span(d unit.Days) string {
	switch {
	case d < 2.0/24:
		return plural(math.Max(1, math.Round(float64(d)*1440)), "minute")
	case d < 2:
		return plural(math.Round(float64(d)*24), "hour")
	case d < 21:
		return plural(math.Round(float64(d)), "day")
	case d < 120:
		return plural(math.Round(float64(d)/7), "week")
	case d < 730:
		return plural(math.Round(float64(d)/30.44), "month")
	default:
		return plural(math.Round(float64(d)/365.25), "year")
	}
}

func plural(n float64, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%.0f %ss", n, what)
}

// litres rounds an amount of drink to two significant digits.
func litres(l float64) string {
	if l <= 0 {
		return "0 litres"
	}
	step := math.Pow(10, math.Floor(math.Log10(l))-1)
	n := unit.RoundTo(l, math.Max(step, 0.1))
	if n == 1 {
		return "1 litre"
	}
	if n < 10 {
		return unit.Number(n, 0, 1) + " litres"
	}
	return thousands(n) + " litres"
}

// thousands prints a whole number with a comma between groups of three digits.
func thousands(n float64) string {
	s := fmt.Sprintf("%.0f", n)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// when is a sentence that belongs there only if something is so.
func when(so bool, format string, args ...any) string {
	if !so {
		return ""
	}
	return fmt.Sprintf(format, args...)
}

// lines leaves out what is empty.
func lines(all ...string) []string {
	return slices.DeleteFunc(all, func(l string) bool { return l == "" })
}

// and joins words as people do; of many only the first four.
func and(words []string) string {
	if n := len(words); n > 5 {
		words = append(slices.Clone(words[:4]), fmt.Sprintf("%d others", n-4))
	}
	return mistake.Join(words, "and")
}
