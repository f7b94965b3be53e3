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

// picture translates a situation into what the chart package draws: the gas that can be used, without the heel,
// as the words under it tell it.
func picture(v notice.Voice, s notice.Situation) chart.Data {
	o := s.Outlook
	d := chart.Data{
		Title: "Gas in the cylinder", Subtitle: v.Lasts(s), Now: s.Now, Zone: v.Zone,
		BookBy: s.BookBy, Booked: s.Booked, History: history(v, s),
		Fills: []time.Time{s.Filled}, LiquidDry: spread(o.LiquidDry, s.Now), RunOut: spread(o.RunOut, s.Now),
	}
	if s.Named {
		d.Title = "Gas in cylinder " + s.Cylinder
	}
	if v.US {
		d.Units = chart.US
	}
	if o.RunOut.Known() && o.Learned {
		d.Fan = chart.Fan(s.Now, usable(o), quantiles(o.RunOut), 0, farthestFan)
	}
	return d
}

// history is one point a day at local noon of this fill, and the present.
func history(v notice.Voice, s notice.Situation) []chart.Point {
	var out []chart.Point
	for _, day := range s.History {
		at := time.Date(day.Date.Year(), day.Date.Month(), day.Date.Day(), 12, 0, 0, 0, v.Zone)
		if at.Before(s.Now) {
			out = append(out, chart.Point{At: at, Net: math.Max(0, float64(day.Net-s.Outlook.Heel))})
		}
	}
	return append(out, chart.Point{At: s.Now, Net: usable(s.Outlook).P50})
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

// usable gives the quantiles of the gas that can be used; 1.2816 and 0.6745 are the 90 % and 75 % points of a
// normal variable.
func usable(o forecast.Outlook) chart.Quantiles {
	at := func(z float64) float64 { return math.Max(0, o.Gas.Mean-float64(o.Heel)+z*o.Gas.SD) }
	return chart.Quantiles{P10: at(-1.2816), P25: at(-0.6745), P50: at(0), P75: at(0.6745), P90: at(1.2816)}
}
