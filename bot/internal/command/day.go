package command

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// parseDay reads a day to come: 2027-06-04, 4 June, June 4, today, tomorrow, friday, in 3 days, 3 days; "until" and "for" before it are
// left out.
// It is noon of that day in now's zone. A date without a year is the next such date.
func parseDay(text string, now time.Time) (time.Time, error) {
	t := strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer(",", " ", ".", " ").Replace(text)), " "))
	t = strings.TrimPrefix(strings.TrimPrefix(t, "until "), "for ")
	day, ok := relativeDay(t, now)
	if !ok {
		day, ok = calendarDay(t, now)
	}
	if !ok {
		return time.Time{}, &Problem{fmt.Sprintf("“%s” is not a day I can read.", text), "Write it like 2027-06-04, 4 June, friday or tomorrow."}
	}
	if noonOf(day).Before(noonOf(now)) {
		return time.Time{}, &Problem{fmt.Sprintf("%s is past.", day.Format("2 January 2006")), "Which day to come is meant?"}
	}
	return noonOf(day), nil
}

func noonOf(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, t.Location())
}

func relativeDay(t string, now time.Time) (time.Time, bool) {
	switch t {
	case "today", "now":
		return now, true
	case "tomorrow":
		return now.AddDate(0, 0, 1), true
	}
	name := strings.TrimPrefix(strings.TrimPrefix(t, "on "), "next ")
	for i := 1; i <= 7; i++ {
		day := now.AddDate(0, 0, i)
		long := strings.ToLower(day.Weekday().String())
		if name == long || name == long[:3] {
			return day, true
		}
	}
	if f := strings.Fields(strings.TrimPrefix(t, "in ")); len(f) == 2 && strings.HasPrefix(f[1], "day") {
		if n, err := strconv.Atoi(f[0]); err == nil && n >= 0 && n < 3660 {
			return now.AddDate(0, 0, n), true
		}
	}
	return time.Time{}, false
}

func calendarDay(t string, now time.Time) (time.Time, bool) {
	for _, layout := range []string{"2006-01-02", "2 January 2006", "January 2 2006", "2 Jan 2006", "Jan 2 2006"} {
		if day, err := time.ParseInLocation(layout, t, now.Location()); err == nil {
			return day, true
		}
	}
	for _, layout := range []string{"2 January", "January 2", "2 Jan", "Jan 2"} {
		day, err := time.ParseInLocation(layout, t, now.Location())
		if err != nil {
			continue
		}
		next := time.Date(now.Year(), day.Month(), day.Day(), 12, 0, 0, 0, now.Location())
		if next.Before(now.AddDate(0, 0, -1)) {
			next = next.AddDate(1, 0, 0)
		}
		return next, true
	}
	return time.Time{}, false
}
