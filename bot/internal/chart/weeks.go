package chart

import (
	"time"

	"tarebell/bot/internal/notice"
)

// refilled is a rise from one day to the next that is a fill rather than scatter, g.
const refilled = 300

// useOf is the gas that went in each week of a household from Monday, what was told as lost apart from the use.
func useOf(v notice.Voice, s notice.Situation) UseData {
	d := UseData{Title: "Gas used per week", Subtitle: v.Weekly(s), Now: s.Now, Voice: v, Weeks: weeks(v, s)}
	if s.Named {
		d.Title += ", cylinder " + s.Cylinder
	}
	for i := range d.Weeks {
		w := &d.Weeks[i]
		for _, l := range s.Losses {
			w.Lost += float64(l.Mass) * w.share(l.From, l.To)
		}
		w.Lost = max(0, min(w.Lost, w.Used))
		w.Used = max(0, w.Used-w.Lost)
	}
	return d
}

// weeks spreads what went between two days evenly over the time between them. The first week counts only if the history
// began with it.
func weeks(v notice.Voice, s notice.Situation) (out []Week) {
	if len(s.History) == 0 {
		return nil
	}
	first, last := noon(s.History[0].Date, v.Zone), noon(s.History[len(s.History)-1].Date, v.Zone)
	y, m, d := first.Date()
	start := time.Date(y, m, d-(int(first.Weekday())+6)%7, 0, 0, 0, 0, v.Zone)
	if first.Sub(start) > 24*time.Hour {
		start = start.AddDate(0, 0, 7)
	}
	for ; start.Before(last); start = start.AddDate(0, 0, 7) {
		out = append(out, Week{Start: start})
	}
	for i := 1; i < len(s.History); i++ {
		before, after := s.History[i-1], s.History[i]
		gone := float64(before.Net - after.Net)
		if gone < -refilled {
			continue
		}
		for k := range out {
			out[k].Used += gone * out[k].share(noon(before.Date, v.Zone), noon(after.Date, v.Zone))
		}
	}
	return out
}

// share is the part of from-to that lies in the week, in [0, 1]; of a moment, all or nothing.
func (w Week) share(from, to time.Time) float64 {
	return overlap(w.Start, w.Start.AddDate(0, 0, 7), from, to)
}

func overlap(a, b, from, to time.Time) float64 {
	whole := to.Sub(from)
	if whole <= 0 {
		if from.Before(a) || !from.Before(b) {
			return 0
		}
		return 1
	}
	return max(0, float64(min(to.Sub(a), b.Sub(a), b.Sub(from), whole))/float64(whole))
}
