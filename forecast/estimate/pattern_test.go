package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// TestWeekOfOneDay: what differs between weekdays is learned as far as it stands out from how days scatter: a club that meets on Fridays within weeks, a
// household without a habit not at all.
func TestWeekOfOneDay(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 8))
	club, steady := newPattern(), newPattern()
	for day := range 5 * 7 {
		use := 0.0
		if wd := time.Weekday(day % 7); wd == time.Friday {
			use = 800 + 200*r.NormFloat64()
		}
		club.learnDay(day%7, use)
		steady.learnDay(day%7, 100*math.Exp(0.4*r.NormFloat64()))
	}
	if f := club.day[time.Friday]; f < 6 {
		t.Errorf("after five weeks a club's Friday counts %.2f days of the week's mean, want nearly 7", f)
	}
	for d, f := range steady.day {
		if math.Abs(f-priorDay(d)) > 0.2 {
			t.Errorf("weekday %d of a household without a habit counts %.2f", d, f)
		}
	}
}

// TestClub: a club that draws a kilogram each Friday evening: after two months the use told is that of a week, and the end lies where it is.
func TestClub(t *testing.T) {
	s := newStory(Options{House: 15000, NetFill: 22680, Heel: 120})
	for range 8 * 7 * 24 {
		s.at = s.at.Add(time.Hour)
		if s.at.Weekday() == time.Friday && s.at.Hour() >= 18 && s.at.Hour() < 22 {
			s.gas -= 250
		}
		s.weigh(0)
	}
	between(t, "g/day", s.use()*(1-s.f.State(s.at).Away), 90, 260)
	between(t, "days to the end", s.median(), 0.7*7*(s.gas-120)/1000, 1.4*7*(s.gas-120)/1000)
}
