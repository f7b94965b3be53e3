// Package holiday says on which days a country, or a part of one, keeps a public holiday.
//
// The lists are those of github.com/rickar/cal. They know the rules, not decrees made for a single year; local
// suppliers may close on further days, which they say themselves.
package holiday

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/rickar/cal/v2"

	"tarebell/forecast/unit/mistake"
)

// Calendar is the public holidays of one region. It may be used from several goroutines.
type Calendar struct {
	days []*cal.Holiday

	mu    sync.Mutex
	years map[int]map[date]string
}

type date struct {
	month time.Month
	day   int
}

// For is the calendar of a region such as "at" or "de-by". The error says which regions there are.
func For(region string) (*Calendar, error) {
	days, ok := calendars[region]
	if !ok {
		return nil, unknown(region)
	}
	return &Calendar{days: days, years: map[int]map[date]string{}}, nil
}

// unknown says what to write instead of a region that has no calendar.
func unknown(region string) error {
	country, _, _ := strings.Cut(region, "-")
	var countries, parts []string
	for _, name := range slices.Sorted(maps.Keys(calendars)) {
		c, part, _ := strings.Cut(name, "-")
		if !slices.Contains(countries, c) {
			countries = append(countries, c)
		}
		if c == country && part != "" {
			parts = append(parts, part)
		}
	}
	switch {
	case region == "uk":
		return errors.New("no such country; for the United Kingdom write gb")
	case len(parts) > 0:
		return fmt.Errorf("want %s- and one of %s", country, strings.Join(parts, " "))
	case slices.Contains(countries, country):
		return errors.New("no such part; want " + country)
	}
	return errors.New("no holidays known for it; use " + mistake.Join(countries, "or"))
}

// Name is the holiday kept on t's date in t's own zone, or "" on an ordinary day. A holiday that moves off a
// weekend is kept on both days.
func (c *Calendar) Name(t time.Time) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	y, m, d := t.Date()
	days, ok := c.years[y]
	if !ok {
		days = c.year(y)
		c.years[y] = days
	}
	return days[date{m, d}]
}

// year lists a year. New Year's Day of the next may be kept on its last day.
func (c *Calendar) year(y int) map[date]string {
	out := map[date]string{}
	for _, h := range c.days {
		for _, of := range []int{y - 1, y, y + 1} {
			actual, observed := h.Calc(of)
			for _, t := range []time.Time{actual, observed} {
				if !t.IsZero() && t.Year() == y {
					out[date{t.Month(), t.Day()}] = h.Name
				}
			}
		}
	}
	return out
}
