package config

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/robfig/cron/v3"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// periods are the units of Retest.Every, in months.
var periods = unit.Sizes{Names: "y or mo", Of: map[string]float64{"y": 12, "year": 12, "years": 12, "mo": 1, "month": 1, "months": 1}}

// parsePeriod reads a whole number of months.
func parsePeriod(s string) (int, error) {
	months, err := periods.Parse(s)
	switch {
	case err != nil:
		return 0, err
	case months < 6 || months > 240:
		return 0, errors.New("want half a year to 20 years")
	case months != math.Trunc(months):
		return 0, errors.New("want whole years or months")
	}
	return int(months), nil
}

// Retest is the periodic inspection of a cylinder.
type Retest struct {
	Last  time.Time // first day of the stamped month, UTC
	Every int       // months
}

// Due is the first day of the month in which the next one falls.
func (r Retest) Due() time.Time { return r.Last.AddDate(0, r.Every, 0) }

func parseMonth(s string) (time.Time, error) {
	for _, layout := range []string{"2006-01", "2006/01", "2006-01-02"} {
		if t, err := time.Parse(layout, strings.TrimSpace(s)); err == nil && t.Year() >= 1900 {
			return t.AddDate(0, 0, 1-t.Day()), nil
		}
	}
	return time.Time{}, errors.New("want year-month")
}

const day = 24 * time.Hour

// durations are lengths of time, in nanoseconds as time.Duration is.
var durations = unit.Sizes{Names: "s, m, h or d", Of: map[string]float64{
	"s": float64(time.Second), "sec": float64(time.Second), "second": float64(time.Second), "seconds": float64(time.Second),
	"m": float64(time.Minute), "min": float64(time.Minute), "minute": float64(time.Minute), "minutes": float64(time.Minute),
	"h": float64(time.Hour), "hour": float64(time.Hour), "hours": float64(time.Hour),
	"d": float64(day), "day": float64(day), "days": float64(day),
}}

// durationIn reads a length of time between lo and hi.
func durationIn(lo, hi time.Duration) func(string) (time.Duration, error) {
	return func(s string) (time.Duration, error) {
		x, err := durations.Parse(s)
		if err == nil && (x < float64(lo) || x > float64(hi)) {
			err = fmt.Errorf("want %s to %s", brief(lo), brief(hi))
		}
		return time.Duration(x), err
	}
}

// brief writes whole days, hours, minutes or seconds.
func brief(d time.Duration) string {
	for _, name := range []string{"d", "h", "m", "s"} {
		if size := time.Duration(durations.Of[name]); d >= size && d%size == 0 {
			return fmt.Sprintf("%d%s", d/size, name)
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
