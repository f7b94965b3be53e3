// Package holiday says on which days a country, or a part of one, keeps a public holiday.
//
// The lists are those of github.com/rickar/cal. They know the rules, not decrees made for a single year; local
// suppliers may close on further days, which they say themselves.
package holiday

import (
	"fmt"
	"sync"
	"time"

	"github.com/rickar/cal/v2"
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

// For is the calendar of a region such as "at" or "de-by", one of config.HolidayRegions.
func For(region string) (*Calendar, error) {
	days, ok := calendars[region]
	if !ok {
		return nil, fmt.Errorf("holidays of %q: no such region", region)
	}
	return &Calendar{days: days, years: map[int]map[date]string{}}, nil
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
