// Package schedule says when something recurring is next due, and when the household sleeps. It is pure: the
// present is always an argument.
//
// A schedule is written in the clock time of the household. On the days of a clock change:
//
//   - a local time that does not occur counts as the moment the clock jumps (02:30, when 02:00 becomes
//     03:00, is due at 03:00), so that a daily notice is never left out;
//   - a local time that occurs twice counts the first time only, so that it is never given twice.
package schedule

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/robfig/cron/v3"
)

// Schedule is a recurring occasion.
type Schedule struct {
	cron cron.Schedule // asked in local clock time written as if it were UTC
	loc  *time.Location
}

var parser = cron.NewParser(cron.Minute | cron.Hour | cron.Dom | cron.Month | cron.Dow | cron.Descriptor)

// Parse reads the five fields of a cron line (minute, hour, day of month, month, day of week; with both kinds of
// day restricted, either will do) or @hourly, @daily, @weekly, @monthly, @yearly.
func Parse(text string, loc *time.Location) (Schedule, error) {
	text = strings.TrimSpace(text)
	if strings.HasPrefix(text, "TZ=") || strings.HasPrefix(text, "CRON_TZ=") {
		return Schedule{}, fmt.Errorf("%q: leave the time zone out, times are those of the household", text)
	}
	c, err := parser.Parse(text)
	if err != nil {
		return Schedule{}, fmt.Errorf("%q: %w; write minute hour day month weekday, such as \"0 18 * * SUN\"", text, err)
	}
	if _, ok := c.(*cron.SpecSchedule); !ok {
		return Schedule{}, fmt.Errorf("%q: a fixed distance has no clock time; write minute hour day month weekday", text)
	}
	s := Schedule{cron: c, loc: loc}
	if s.Next(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)).IsZero() {
		return Schedule{}, fmt.Errorf("%q: %w", text, ErrNever)
	}
	return s, nil
}

// ErrNever is the error for a day that no calendar has, such as 31 February.
var ErrNever = errors.New("there is no such day in any year")

// Next is the first occasion after t, in the household's zone.
func (s Schedule) Next(t time.Time) time.Time {
	for c := s.after(clock(t.In(s.loc))); !c.IsZero(); c = s.after(c) {
		if at := instant(c, s.loc); at.After(t) {
			return at
		}
	}
	return time.Time{}
}

// after is the next occasion after the clock time c. The parser's own search ends after five years, but 29
// February may be eight years away (1896 to 1904, 2096 to 2104).
func (s Schedule) after(c time.Time) time.Time {
	for range 3 {
		if n := s.cron.Next(c); !n.IsZero() {
			return n
		}
		c = c.AddDate(4, 0, 0)
	}
	return time.Time{}
}
