package chart

import (
	"bytes"
	"image/png"
	"math"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
)

// diary is an invented household that uses 40 g a day from Monday 4 January 2027 on, weighed every so many days; a loss of 280 g
// in the third week, and a fill in the fifth.
func diary(days, every int) notice.Situation {
	begin := time.Date(2027, 1, 4, 0, 0, 0, 0, time.UTC)
	loss := notice.Lost{From: begin.AddDate(0, 0, 15), To: begin.AddDate(0, 0, 17), Mass: 280}
	s := notice.Situation{Place: notice.Place{Now: begin.AddDate(0, 0, days).Add(9 * time.Hour)}, Lately: notice.Lately{Losses: []notice.Lost{loss}}}
	for i := 0; i <= days; i += every {
		day := begin.AddDate(0, 0, i)
		net := 5000 - 40*float64(i) - 280*overlap(begin, day.Add(12*time.Hour), loss.From, loss.To)
		if i > 30 {
			net += 5000
		}
		s.History = append(s.History, forecast.Day{Date: day, Net: unit.Grams(net)})
	}
	return s
}

// TestWeeks: what was put in is found again: 280 g in a whole week, and the loss beside it, however seldom it was weighed.
func TestWeeks(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	for _, every := range []int{1, 3} {
		d := useOf(notice.Voice{Zone: zone}, diary(45, every))
		if len(d.Weeks) != 7 {
			t.Fatalf("weighed every %d days: %d weeks, want 7", every, len(d.Weeks))
		}
		for i, want := range []struct{ used, lost float64 }{{260, 0}, {280, 0}, {280, 280}, {280, 0}} {
			w := d.Weeks[i]
			// weighed every third day, the ends of a week and the loss are known to within a day's use
			if tol := 1 + 40*float64(every-1); math.Abs(w.Used-want.used) > tol || math.Abs(w.Lost-want.lost) > tol {
				t.Errorf("weighed every %d days, week %d: %.0f g used, %.0f g lost, want %.0f and %.0f", every, i, w.Used, w.Lost, want.used, want.lost)
			}
			if at := w.Start.In(zone); at.Weekday() != time.Monday || at.Hour() != 0 {
				t.Errorf("a week from %v", at)
			}
		}
		if filled := d.Weeks[4].Used; filled < 100 || filled > 280 {
			t.Errorf("week of the fill: %.0f g used", filled)
		}
	}
}

// TestUsePicture: from the third week on there is a picture, before that none and no error.
func TestUsePicture(t *testing.T) {
	for days, want := range map[int]bool{0: false, 12: false, 20: true, 45: true} {
		picture, err := Household(notice.Voice{Zone: time.UTC}).Weeks(diary(days, 1))
		if err != nil || (picture != nil) != want {
			t.Errorf("after %d days: %d bytes, %v", days, len(picture), err)
		}
		if want {
			if _, err := png.Decode(bytes.NewReader(picture)); err != nil {
				t.Error(err)
			}
		}
	}
	if picture, err := Household(notice.Voice{Zone: time.UTC}).Weeks(notice.Situation{Place: notice.Place{Now: time.Now()}}); picture != nil || err != nil {
		t.Errorf("of nothing: %d bytes, %v", len(picture), err)
	}
}

// TestOverlap by hand.
func TestOverlap(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2027, 1, 4, h, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		a, b, from, to int
		want           float64
	}{{0, 10, 2, 4, 1}, {0, 10, 8, 12, 0.5}, {4, 10, 2, 6, 0.5}, {4, 6, 0, 8, 0.25}, {0, 2, 2, 4, 0}, {4, 6, 2, 4, 0}, {0, 4, 2, 2, 1}, {3, 4, 2, 2, 0}} {
		if got := overlap(at(c.a), at(c.b), at(c.from), at(c.to)); got != c.want {
			t.Errorf("%+v: %g", c, got)
		}
	}
}
