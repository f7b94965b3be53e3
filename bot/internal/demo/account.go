package demo

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit"
)

// account sets what was said beside what was true.
func (d *demo) account() {
	w, t := d.opt.Out, d.house.Truth()
	now := d.clock.Now()
	s, _ := d.app.House.Situation("main", now)
	fmt.Fprintf(w, "\nWhat was true, and what was said\n")
	line := func(format string, args ...any) { fmt.Fprintf(w, "  "+format+"\n", args...) }
	line("The people drew %d servings, %.0f litres, %.2f kg of gas; %.2f kg leaked.", t.Servings, float64(t.Litres), t.Used.Kilograms(), t.Lost.Kilograms())
	line("At the end %.0f g of gas are in the cylinder; believed are %.0f ± %.0f g.", float64(t.Net), s.Outlook.Gas.Mean, s.Outlook.Gas.SD)
	line("They drew %.0f g a day in the last four weeks; believed are %.0f ± %.0f g a day.", d.lately(t.DailyNet), s.Outlook.Use.Mean, s.Outlook.Use.SD)
	if due := d.first(now, func(p posted) bool { return has(p.Message, "booked:") }); !due.IsZero() && d.left > 0 {
		line("Booking was asked for on %s; when the refill came, %.0f g were left, %.0f of them usable.", due.Format("2 January"), float64(d.left), float64(d.left)-s.Outlook.Heel.Kilograms()*1000)
	}
	alarms := 0
	for _, l := range t.Losses {
		to := l.To
		if to.IsZero() {
			to = now
		}
		told := d.first(to.Add(6*time.Hour), func(p posted) bool { return has(p.Message, "answer:leak:") && !p.at.Before(l.From) })
		if told.IsZero() {
			line("%s at %.3g g/h from %s: not noticed; %.0f g lost.", l.What, float64(l.Rate), l.From.Format("2 January 15:04"), float64(l.Lost))
			continue
		}
		before := unit.GramsPerHour(l.Rate).Over(unit.Between(l.From, told))
		line("%s at %.3g g/h from %s: told after %s, %.0f g; %.0f g lost in all.", l.What, float64(l.Rate),
			l.From.Format("2 January 15:04"), after(told.Sub(l.From)), float64(before), float64(l.Lost))
	}
	for _, p := range d.room.said {
		if has(p.Message, "answer:leak:") && !strings.HasPrefix(p.Headline, "Still") && !during(p.at, d) {
			alarms++
		}
	}
	line("False alarms: %d. Notices posted: %d, of which %d urgent.", alarms, len(d.room.said), d.urgent())
	line("%d polls over HTTP, %d of them unanswered, in %.1f s.", d.polls, d.failed, time.Since(d.began).Seconds())
}

// lately is the true use over the last four weeks, g/day, fills and losses left out.
func (d *demo) lately(daily []unit.Grams) float64 {
	var sum, n float64
	for i := max(1, len(daily)-28); i < len(daily); i++ {
		if drop := float64(daily[i-1] - daily[i]); drop >= 0 {
			sum += drop
			n++
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return sum / n
}

// first is when the first notice of a sort was posted, before a time.
func (d *demo) first(before time.Time, is func(posted) bool) time.Time {
	for _, p := range d.room.said {
		if is(p) && !p.at.After(before) {
			return p.at
		}
	}
	return time.Time{}
}

// during reports whether gas was really leaving at t, or had within the last hours.
func during(t time.Time, d *demo) bool {
	for _, l := range d.house.Truth().Losses {
		if !t.Before(l.From) && (l.To.IsZero() || t.Before(l.To.Add(6*time.Hour))) {
			return true
		}
	}
	return false
}

func (d *demo) urgent() int {
	n := 0
	for _, p := range d.room.said {
		if p.Severity == chat.Danger {
			n++
		}
	}
	return n
}

func after(d time.Duration) string {
	if d < 48*time.Hour {
		return fmt.Sprintf("%.1f hours", d.Hours())
	}
	return fmt.Sprintf("%.1f days", d.Hours()/24)
}
