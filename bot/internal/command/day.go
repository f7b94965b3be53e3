package command

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
)

// parseDay reads a day to come: 2027-06-04, 4.6., 4 June, June 4, today, tomorrow, friday, in 3 days, in a week; words such as "until"
// before it are left out. It is noon of that day in now's zone. A date without a year is the next such date.
func parseDay(text string, now time.Time) (time.Time, error) {
	words := strings.Fields(strings.ToLower(strings.NewReplacer(", ", " ", ".", " ").Replace(text)))
	for len(words) > 1 && slices.Contains([]string{"until", "for", "on", "in", "next"}, words[0]) {
		words = words[1:]
	}
	day, ok := relativeDay(words, now)
	if !ok {
		day, ok = date(strings.Join(words, " "), now)
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

// relativeDay reads "tomorrow", "friday", "3 days", "a week".
func relativeDay(words []string, now time.Time) (time.Time, bool) {
	if len(words) == 2 {
		n, err := strconv.Atoi(words[0])
		if words[0] == "a" || words[0] == "one" {
			n, err = 1, nil
		}
		days := map[string]int{"day": 1, "days": 1, "week": 7, "weeks": 7}[words[1]] * n
		return now.AddDate(0, 0, days), err == nil && n >= 0 && n < 3660 && slices.Contains([]string{"day", "days", "week", "weeks"}, words[1])
	}
	for i := -1; i <= 7 && len(words) == 1; i++ {
		day := now.AddDate(0, 0, i)
		names := []string{strings.ToLower(day.Weekday().String()), strings.ToLower(day.Format("Mon"))}
		switch i {
		case -1:
			names = []string{"yesterday"}
		case 0:
			names = []string{"today", "now"}
		case 1:
			names = append(names, "tomorrow")
		}
		if slices.Contains(names, words[0]) {
			return day, true
		}
	}
	return time.Time{}, false
}

// date reads a date of ISO 8601, with the month's name, or of numbers with the day first. Without a year it is the next such date there
// is: 29 February may be years ahead.
func date(t string, now time.Time) (time.Time, bool) {
	for _, layout := range []string{"2006-01-02", "2 1 06", "2 1 2006", "2 January 2006", "January 2 2006", "2 Jan 2006", "Jan 2 2006",
		"2 January", "January 2", "2 Jan", "Jan 2", "2 1"} {
		day, err := time.ParseInLocation(layout, t, now.Location())
		if err != nil {
			continue
		}
		for y := now.Year(); !strings.Contains(layout, "06"); y++ {
			if next := time.Date(y, day.Month(), day.Day(), 12, 0, 0, 0, now.Location()); next.Day() == day.Day() && !next.Before(now.AddDate(0, 0, -1)) {
				return next, true
			}
		}
		return day, true
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
