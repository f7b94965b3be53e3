package notice

import (
	"fmt"
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Voice is how one household is spoken to.
type Voice struct {
	Zone *time.Location
	US   bool // pounds and month-first dates
}

// Mass is m rounded for reading: grams below 1 kg (ounces below 1 lb), else one decimal.
func (v Voice) Mass(m unit.Grams) string {
	if v.US {
		if lb := m.Pounds(); math.Abs(lb) >= 1 {
			return fmt.Sprintf("%.1f lb", lb)
		}
		return fmt.Sprintf("%.1f oz", float64(m)/unit.GramsPerOunce)
	}
	if kg := m.Kilograms(); math.Abs(kg) >= 0.995 {
		return fmt.Sprintf("%.1f kg", kg)
	}
	return fmt.Sprintf("%.0f g", roundTo(float64(m), 10))
}

// Exact is m to the last digit a scale shows, to echo what somebody typed.
func (v Voice) Exact(m unit.Grams) string {
	if v.US {
		return trim(fmt.Sprintf("%.2f", m.Pounds())) + " lb"
	}
	return trim(fmt.Sprintf("%.3f", m.Kilograms())) + " kg"
}

// Small is a mass of some grams, as used in a day or lost.
func (v Voice) Small(m unit.Grams) string {
	switch {
	case v.US && math.Abs(float64(m)) < unit.GramsPerPound:
		return fmt.Sprintf("%.1f oz", float64(m)/unit.GramsPerOunce)
	case v.US || math.Abs(float64(m)) >= 995:
		return v.Mass(m)
	case math.Abs(float64(m)) >= 100:
		return fmt.Sprintf("%.0f g", roundTo(float64(m), 10))
	default:
		return fmt.Sprintf("%.0f g", float64(m))
	}
}

// rate is a rate with its standard deviation, neither finer than the latter deserves.
func (v Voice) rate(r, sd unit.GramsPerHour) string {
	if v.US {
		return fmt.Sprintf("%.2g ± %.1g oz an hour", float64(r)/unit.GramsPerOunce, math.Max(float64(sd)/unit.GramsPerOunce, 0.01))
	}
	if r < 10 {
		return fmt.Sprintf("%.1f ± %.1f g an hour", float64(r), math.Max(float64(sd), 0.1))
	}
	step := math.Pow(10, math.Max(0, math.Floor(math.Log10(math.Max(float64(sd), 1)/2))))
	return fmt.Sprintf("%s ± %s g an hour", thousands(roundTo(float64(r), step)), thousands(math.Max(roundTo(float64(sd), step), 1)))
}

func roundTo(x, step float64) float64 { return math.Round(x/step) * step }

// trim drops trailing zeros after a decimal point.
func trim(s string) string {
	for len(s) > 0 && s[len(s)-1] == '0' {
		s = s[:len(s)-1]
	}
	if len(s) > 0 && s[len(s)-1] == '.' {
		s = s[:len(s)-1]
	}
	return s
}

// Day is a calendar date: "Thu 14 May", with the year when it is not now's.
func (v Voice) Day(t, now time.Time) string {
	t, now = t.In(v.Zone), now.In(v.Zone)
	layout, year := "Mon 2 Jan", " 2006"
	if v.US {
		layout, year = "Mon Jan 2", ", 2006"
	}
	if t.Year() != now.Year() {
		layout += year
	}
	return t.Format(layout)
}

// ShortDay is a date without weekday and year: "14 May".
func (v Voice) ShortDay(t time.Time) string {
	if v.US {
		return t.In(v.Zone).Format("Jan 2")
	}
	return t.In(v.Zone).Format("2 Jan")
}

// Moment is a time of day, with the date when it is not today's.
func (v Voice) Moment(t, now time.Time) string {
	clock := "15:04"
	if v.US {
		clock = "3:04 pm"
	}
	at := t.In(v.Zone).Format(clock)
	switch days := calendarDays(t.In(v.Zone), now.In(v.Zone)); {
	case days == 0:
		return at
	case days == 1:
		return at + " yesterday"
	default:
		return at + " on " + v.Day(t, now)
	}
}

// calendarDays counts midnights from a to b.
func calendarDays(a, b time.Time) int {
	midnight := func(t time.Time) time.Time { return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC) }
	return int(math.Round(midnight(b).Sub(midnight(a)).Hours() / 24))
}

// grain is how finely a date is told.
type grain int

const (
	byDay grain = iota
	byThird
	byMonth
	byYear
	never
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

// around is the date d after now, as finely as it deserves.
func (v Voice) around(now time.Time, d unit.Days) string {
	g := grainOf(d)
	date := v.date(now, d, g)
	if g == byYear {
		date += fmt.Sprintf(" (in about %.0f years)", float64(d)/365.25)
	}
	return date
}

// Around is the moment t, as finely as it deserves now.
func (v Voice) Around(t, now time.Time) string {
	d := unit.Between(now, t)
	return v.date(now, d, grainOf(d))
}

// date is the date d after now at a given fineness.
func (v Voice) date(now time.Time, d unit.Days, g grain) string {
	t, ok := d.After(now)
	if !ok || g == never {
		return "more than 20 years from now"
	}
	local := t.In(v.Zone)
	switch g {
	case byDay:
		return v.Day(t, now)
	case byThird:
		return [...]string{"early", "mid", "late"}[min(2, (local.Day()-1)/10)] + " " + v.month(local, now)
	case byMonth:
		return v.month(local, now)
	}
	return fmt.Sprintf("%d", local.Year())
}

// between are the dates that are from and to days away, the first one with its year if the second is in another:
// "between August and September 2028" would be a month.
func (v Voice) between(now time.Time, from, to unit.Days, g, h grain) (a, b string) {
	a, b = v.date(now, from, g), v.date(now, to, h)
	t, known := from.After(now)
	u, certain := to.After(now)
	if !known || !certain || g == never || h == never || g != byThird && g != byMonth {
		return a, b
	}
	if y := t.In(v.Zone).Year(); y == now.In(v.Zone).Year() && y != u.In(v.Zone).Year() {
		a += fmt.Sprintf(" %d", y)
	}
	return a, b
}

func (v Voice) month(local, now time.Time) string {
	if local.Year() != now.In(v.Zone).Year() {
		return local.Format("January 2006")
	}
	return local.Format("January")
}

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
	n := roundTo(l, math.Max(step, 0.1))
	if n == 1 {
		return "1 litre"
	}
	if n < 10 {
		return trim(fmt.Sprintf("%.1f", n)) + " litres"
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
