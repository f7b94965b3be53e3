package app

import (
	"time"

	"tarebell/bot/internal/chart"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
)

const (
	// fewestWeeks is how many weeks make a picture worth looking at.
	fewestWeeks = 3
	// refilled is a rise from one day to the next that is a fill rather than scatter, g.
	refilled = 300
)

// useDrawer draws the use per week; no picture and no error while too few weeks are known.
func useDrawer(o household.Options) func(notice.Situation) ([]byte, error) {
	return func(s notice.Situation) ([]byte, error) {
		d := useData(o.Voice, s)
		if len(d.Weeks) < fewestWeeks {
			return nil, nil
		}
		return chart.Use(d)
	}
}

// useData is the gas that went in each week from Monday, what was told as lost apart from the use.
func useData(v notice.Voice, s notice.Situation) chart.UseData {
	d := chart.UseData{Title: "Gas used per week", Subtitle: v.Weekly(s), Now: s.Now, Zone: v.Zone, Weeks: weeks(v, s)}
	if s.Named {
		d.Title += ", cylinder " + s.Cylinder
	}
	if v.US {
		d.Units = chart.US
	}
	for i := range d.Weeks {
		w := &d.Weeks[i]
		for _, l := range s.Losses {
			w.Lost += float64(l.Mass) * overlap(w.Start, w.Start.AddDate(0, 0, 7), l.From, l.To)
		}
		w.Lost = max(0, min(w.Lost, w.Used))
		w.Used = max(0, w.Used-w.Lost)
	}
	return d
}

// weeks spreads what went between two days evenly over the time between them. The first week counts only if the history
// began with it.
func weeks(v notice.Voice, s notice.Situation) (out []chart.Week) {
	if len(s.History) == 0 {
		return nil
	}
	noon := func(i int) time.Time {
		y, m, d := s.History[i].Date.Date()
		return time.Date(y, m, d, 12, 0, 0, 0, v.Zone)
	}
	first := noon(0)
	y, m, d := first.Date()
	start := time.Date(y, m, d-(int(first.Weekday())+6)%7, 0, 0, 0, 0, v.Zone)
	if first.Sub(start) > 24*time.Hour {
		start = start.AddDate(0, 0, 7)
	}
	for last := noon(len(s.History) - 1); start.Before(last); start = start.AddDate(0, 0, 7) {
		out = append(out, chart.Week{Start: start})
	}
	for i := 1; i < len(s.History); i++ {
		gone := float64(s.History[i-1].Net - s.History[i].Net)
		if gone < -refilled {
			continue
		}
		for k := range out {
			out[k].Used += gone * overlap(out[k].Start, out[k].Start.AddDate(0, 0, 7), noon(i-1), noon(i))
		}
	}
	return out
}

// overlap is the part of from-to that lies between a and b, in [0, 1].
func overlap(a, b, from, to time.Time) float64 {
	if from.Before(a) {
		whole := to.Sub(from)
		if !to.After(a) {
			return 0
		}
		return float64(earliest(b, to).Sub(a)) / float64(whole)
	}
	if !from.Before(b) {
		return 0
	}
	if !to.After(from) {
		return 1
	}
	return float64(earliest(b, to).Sub(from)) / float64(to.Sub(from))
}

func earliest(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
