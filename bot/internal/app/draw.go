package app

import (
	"math"
	"time"

	"tarebell/bot/internal/chart"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/runout"
)

// farthestFan bounds how far ahead a picture looks.
const farthestFan = 2 * 365 * 24 * time.Hour

// drawer draws the cylinder so far and to come.
func drawer(o household.Options) func(notice.Situation) ([]byte, error) {
	return func(s notice.Situation) ([]byte, error) {
		return chart.Cylinder(picture(o.Voice, s))
	}
}

// picture translates a situation into what the chart package draws.
func picture(v notice.Voice, s notice.Situation) chart.Data {
	o := s.Outlook
	d := chart.Data{
		Title: "Gas in the cylinder", Subtitle: v.Lasts(s), Now: s.Now, Zone: v.Zone, Heel: float64(o.Heel),
		BookBy: s.BookBy, Booked: s.Booked, History: history(v, s),
		LiquidDry: spread(o.LiquidDry, s.Now), RunOut: spread(o.RunOut, s.Now),
	}
	if s.Named {
		d.Title = "Gas in cylinder " + s.Cylinder
	}
	if v.US {
		d.Units = chart.US
	}
	if o.RunOut.Known() && o.Learned {
		d.Fan = chart.Fan(s.Now, normal(o.Gas), quantiles(o.RunOut), d.Heel, farthestFan)
	}
	return d
}

// history is one point a day at local noon of this fill, and the present.
func history(v notice.Voice, s notice.Situation) []chart.Point {
	var out []chart.Point
	for _, day := range s.History {
		at := time.Date(day.Date.Year(), day.Date.Month(), day.Date.Day(), 12, 0, 0, 0, v.Zone)
		if at.Before(s.Now) {
			out = append(out, chart.Point{At: at, Net: math.Max(0, float64(day.Net))})
		}
	}
	return append(out, chart.Point{At: s.Now, Net: math.Max(0, s.Outlook.Gas.Mean)})
}

func spread(d runout.Distribution, now time.Time) chart.Spread {
	at := func(p float64) time.Time {
		if !d.Known() {
			return time.Time{}
		}
		t, _ := d.Quantile(p).After(now)
		return t
	}
	return chart.Spread{P10: at(0.1), P50: at(0.5), P90: at(0.9)}
}

func quantiles(d runout.Distribution) chart.Quantiles {
	q := func(p float64) float64 { return float64(d.Quantile(p)) }
	return chart.Quantiles{P10: q(.1), P25: q(.25), P50: q(.5), P75: q(.75), P90: q(.9)}
}

// normal gives the quantiles of a normal variable; 1.2816 and 0.6745 are its 90 % and 75 % points.
func normal(n forecast.Normal) chart.Quantiles {
	at := func(z float64) float64 { return math.Max(0, n.Mean+z*n.SD) }
	return chart.Quantiles{P10: at(-1.2816), P25: at(-0.6745), P50: at(0), P75: at(0.6745), P90: at(1.2816)}
}
