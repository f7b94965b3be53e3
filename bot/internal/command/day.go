package command

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
)

// parseDay reads a day to come: 2027-06-04, 4.6., 4 June, June 4, today, tomorrow, friday, in 3 days, in a week; "until" and "for"
// before it are left out. It is noon of that day in now's zone. A date without a year is the next such date.
func parseDay(text string, now time.Time) (time.Time, error) {
	t := strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer(",", " ", ".", " ").Replace(text)), " "))
	t = strings.TrimPrefix(strings.TrimPrefix(t, "until "), "for ")
	day, ok := relativeDay(t, now)
	if !ok {
		day, ok = calendarDay(t, now)
	}
	if !ok {
		day, ok = dottedDay(text, now)
	}
	if !ok {
		return time.Time{}, &Problem{fmt.Sprintf("“%s” is not a day I can read.", text), "Write it like 2027-06-04, 4.6., 4 June, friday or tomorrow."}
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
	case "yesterday":
		return now.AddDate(0, 0, -1), true
	}
	name := strings.TrimPrefix(strings.TrimPrefix(t, "on "), "next ")
	for i := 1; i <= 7; i++ {
		day := now.AddDate(0, 0, i)
		long := strings.ToLower(day.Weekday().String())
		if name == long || name == long[:3] {
			return day, true
		}
	}
	return daysOn(strings.Fields(strings.TrimPrefix(t, "in ")), now)
}

// daysOn is the day that "3 days" or "a week" lead to.
func daysOn(f []string, now time.Time) (time.Time, bool) {
	if len(f) != 2 {
		return time.Time{}, false
	}
	n, err := strconv.Atoi(f[0])
	if f[0] == "a" || f[0] == "one" {
		n, err = 1, nil
	}
	switch f[1] {
	case "day", "days":
	case "week", "weeks":
		n *= 7
	default:
		return time.Time{}, false
	}
	return now.AddDate(0, 0, n), err == nil && n >= 0 && n < 3660
}

// calendarDay reads a date with the month's name, or of ISO 8601.
func calendarDay(t string, now time.Time) (time.Time, bool) {
	return date(t, now, []string{"2006-01-02", "2 January 2006", "January 2 2006", "2 Jan 2006", "Jan 2 2006"}, []string{"2 January", "January 2", "2 Jan", "Jan 2"})
}

// dottedDay reads 4.6. and 4.6.2027, the day first.
func dottedDay(text string, now time.Time) (time.Time, bool) {
	return date(strings.TrimSuffix(strings.ReplaceAll(text, " ", ""), "."), now, []string{"2.1.2006", "2.1.06"}, []string{"2.1"})
}

// date reads t by one of the layouts. Without a year it is the next such date there is: 29 February may be years ahead.
func date(t string, now time.Time, full, yearless []string) (time.Time, bool) {
	for _, layout := range full {
		if day, err := time.ParseInLocation(layout, t, now.Location()); err == nil {
			return day, true
		}
	}
	for _, layout := range yearless {
		day, err := time.ParseInLocation(layout, t, now.Location())
		if err != nil {
			continue
		}
		next := time.Date(now.Year(), day.Month(), day.Day(), 12, 0, 0, 0, now.Location())
		for n := 1; n <= 8 && (next.Day() != day.Day() || next.Before(now.AddDate(0, 0, -1))); n++ {
			next = time.Date(now.Year()+n, day.Month(), day.Day(), 12, 0, 0, 0, now.Location())
		}
		return next, true
	}
	return time.Time{}, false
}

// suggestDays offers the next days.
func suggestDays(h *Handler, c chat.Call, option string) []chat.Choice {
	typed := strings.ToLower(c.Options[option])
	var out []chat.Choice
	for i := 1; i <= 21; i++ {
		day := c.At.In(h.opt.Voice.Zone).AddDate(0, 0, i)
		label, value := h.opt.Voice.Day(day, c.At), day.Format(time.DateOnly)
		if strings.Contains(strings.ToLower(label), typed) || strings.HasPrefix(value, typed) {
			out = append(out, chat.Choice{Label: label, Value: value})
		}
	}
	return out
}
