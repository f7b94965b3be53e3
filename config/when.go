package config

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/robfig/cron/v3"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// Period is a span of the calendar.
type Period struct{ Years, Months int }

// After is the same day of the month p later.
func (p Period) After(t time.Time) time.Time { return t.AddDate(p.Years, p.Months, 0) }

func parsePeriod(s string) (Period, error) {
	x, name, err := unit.ParseNumber(s)
	n := int(x)
	if err != nil || float64(n) != x || n < 1 {
		return Period{}, errors.New("want a whole number of years")
	}
	p := Period{Months: n}
	switch strings.ToLower(name) {
	case "y", "year", "years":
		p = Period{Years: n}
	case "mo", "month", "months":
	case "":
		return Period{}, errors.New("no unit; use y or mo")
	default:
		return Period{}, errors.New("unknown unit; use y or mo")
	}
	if m := 12*p.Years + p.Months; n > 1000 || m < 6 || m > 240 {
		return Period{}, errors.New("want half a year to 20 years")
	}
	return p, nil
}

// Retest is the periodic inspection of a cylinder.
type Retest struct {
	Last  time.Time // first day of the stamped month, UTC
	Every Period
}

// Due is the first day of the month in which the next one falls.
func (r Retest) Due() time.Time { return r.Every.After(r.Last) }

func parseMonth(s string) (time.Time, error) {
	for _, layout := range []string{"2006-01", "2006/01", "2006-01-02"} {
		if t, err := time.Parse(layout, strings.TrimSpace(s)); err == nil && t.Year() >= 1900 {
			return t.AddDate(0, 0, 1-t.Day()), nil
		}
	}
	return time.Time{}, errors.New("want year-month")
}

var durationUnits = []struct {
	names []string
	d     time.Duration
}{
	{[]string{"s", "sec", "second", "seconds"}, time.Second},
	{[]string{"m", "min", "minute", "minutes"}, time.Minute},
	{[]string{"h", "hour", "hours"}, time.Hour},
	{[]string{"d", "day", "days"}, 24 * time.Hour},
}

// durationIn reads a length of time between lo and hi.
func durationIn(lo, hi time.Duration) func(string) (time.Duration, error) {
	return func(s string) (time.Duration, error) {
		x, name, err := unit.ParseNumber(s)
		if err != nil {
			return 0, unit.WithUnits(err, "s, m, h or d")
		}
		u, err := durationUnit(name)
		if err != nil {
			return 0, err
		}
		if x < 0 || x*float64(u) < float64(lo) || x*float64(u) > float64(hi) {
			return 0, fmt.Errorf("want %s to %s", brief(lo), brief(hi))
		}
		return time.Duration(x * float64(u)), nil
	}
}

func durationUnit(name string) (time.Duration, error) {
	for _, u := range durationUnits {
		for _, n := range u.names {
			if strings.EqualFold(n, name) {
				return u.d, nil
			}
		}
	}
	if name == "" {
		return 0, errors.New("no unit; use s, m, h or d")
	}
	return 0, errors.New("unknown unit; use s, m, h or d")
}

// brief writes whole days, hours, minutes or seconds.
func brief(d time.Duration) string {
	for i := len(durationUnits) - 1; i >= 0; i-- {
		if u := durationUnits[i]; d >= u.d && d%u.d == 0 {
			return fmt.Sprintf("%d%s", d/u.d, u.names[0])
		}
	}
	return d.String()
}

// Quiet is the part of each day in which only dangers are posted. The zero value is none.
type Quiet struct{ From, To Clock }

// Clock is a time of day in minutes after midnight.
type Clock int

// String is hh:mm.
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

// Any reports that there are quiet hours.
func (q Quiet) Any() bool { return q.From != q.To }

func parseQuiet(s string) (Quiet, error) {
	a, b, ok := strings.Cut(strings.ReplaceAll(s, "–", "-"), "-")
	from, err1 := parseClock(a)
	to, err2 := parseClock(b)
	switch {
	case !ok || err1 != nil || err2 != nil:
		return Quiet{}, errors.New("want from-to as hh:mm-hh:mm")
	case from == to:
		return Quiet{}, errors.New("starts when it ends; leave the key out for no quiet hours")
	}
	return Quiet{from, to}, nil
}

func parseClock(s string) (Clock, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(s))
	return Clock(t.Hour()*60 + t.Minute()), err
}

// cronFields are the five fields as people say them, with what may stand there.
var cronFields = []struct{ name, want string }{
	{"minute", "0 to 59"}, {"hour", "0 to 23"}, {"day of the month", "1 to 31"},
	{"month", "1 to 12 or JAN to DEC"}, {"weekday", "0 to 6 or SUN to SAT"},
}

// checkCron reports what is wrong with a five-field cron spec and the byte at which it is wrong.
func checkCron(s string) (at int, err error) {
	if strings.Contains(s, "TZ=") {
		return 0, errors.New("no time zone here; the household's own is used")
	}
	if strings.HasPrefix(s, "@") {
		if strings.HasPrefix(s, "@every") {
			return 0, errors.New("@every counts from the start of the program; want minute hour day month weekday")
		}
		if _, err := cron.ParseStandard(s); err != nil {
			return 0, errors.New("want @hourly, @daily, @weekly, @monthly or @yearly, or minute hour day month weekday")
		}
		return 0, nil
	}
	fields := strings.Fields(s)
	if len(fields) != len(cronFields) {
		return 0, fmt.Errorf("%d fields; want five: minute hour day month weekday", len(fields))
	}
	for i, f := range fields {
		at += strings.Index(s[at:], f)
		alone := []string{"*", "*", "*", "*", "*"}
		alone[i] = f
		if _, err := cron.ParseStandard(strings.Join(alone, " ")); err != nil {
			return at, fmt.Errorf("%s %s: want %s", cronFields[i].name, mistake.Quote(f), cronFields[i].want)
		}
		at += len(f)
	}
	sched, err := cron.ParseStandard(s)
	if err != nil {
		return 0, errors.New("want minute hour day month weekday")
	}
	if sched.Next(time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)).IsZero() {
		return 0, errors.New("never comes; is there such a day in that month?")
	}
	if every := soonest(s); every < time.Hour {
		return 0, fmt.Errorf("would come every %s; want it once an hour at most, once a week is usual", brief(every))
	}
	return 0, nil
}
