package chart

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/runout"
)

// Household draws the pictures of one household, whose words it is given.
type Household notice.Voice

// Cylinder draws a cylinder so far and to come.
func (h Household) Cylinder(s notice.Situation) ([]byte, error) {
	return Cylinder(cylinderOf(notice.Voice(h), s))
}

// fewestWeeks is how many weeks make a picture worth looking at.
const fewestWeeks = 3

// Weeks draws the use per week; no picture and no error while too few weeks are known.
func (h Household) Weeks(s notice.Situation) ([]byte, error) {
	d := useOf(notice.Voice(h), s)
	if len(d.Weeks) < fewestWeeks {
		return nil, nil
	}
	return Use(d)
}

// farthestFan bounds how far ahead a household's picture looks.
const farthestFan = 2 * 365 * 24 * time.Hour

// cylinderOf is what Cylinder draws of a household's cylinder: the gas that can be used, without the heel,
// as the words under it tell it.
func cylinderOf(v notice.Voice, s notice.Situation) Data {
	o := s.Outlook
	d := Data{
		Title: "Gas in the cylinder", Subtitle: v.GasLeft(s), Now: s.Now, Voice: v,
		BookBy: s.BookBy, Booked: s.Booked, History: points(v, s),
		Filled: s.Filled, LiquidDry: spread(o.LiquidDry, s.Now).P50, RunOut: spread(o.RunOut, s.Now),
	}
	if s.Named {
		d.Title = "Gas in cylinder " + s.Cylinder
	}
	if o.RunOut.Known() && s.Datable() {
		d.Fan = Fan(s.Now, usable(o), quantiles(o.RunOut), farthestFan)
	}
	return d
}

// points is one point a day at local noon of this fill, and the present.
func points(v notice.Voice, s notice.Situation) []Point {
	var out []Point
	for _, day := range s.History {
		if at := noon(day.Date, v.Zone); at.Before(s.Now) {
			out = append(out, Point{At: at, Net: math.Max(0, float64(day.Net-s.Outlook.Heel))})
		}
	}
	return append(out, Point{At: s.Now, Net: usable(s.Outlook)[p50]})
}

// noon is that of a calendar day in a zone.
func noon(day time.Time, zone *time.Location) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, 12, 0, 0, 0, zone)
}

func spread(d runout.Distribution, now time.Time) Spread {
	at := func(p float64) time.Time {
		if !d.Known() {
			return time.Time{}
		}
		t, _ := d.Quantile(p).After(now)
		return t
	}
	return Spread{P10: at(0.1), P50: at(0.5), P90: at(0.9)}
}

func quantiles(d runout.Distribution) (q Quantiles) {
	for i, p := range []float64{.1, .25, .5, .75, .9} {
		q[i] = float64(d.Quantile(p))
	}
	return q
}

// usable gives the quantiles of the gas that can be used; 1.2816 and 0.6745 are the 90 % and 75 % points of a
// normal variable.
func usable(o forecast.Outlook) (q Quantiles) {
	for i, z := range []float64{-1.2816, -0.6745, 0, 0.6745, 1.2816} {
		q[i] = math.Max(0, o.Gas.Mean-float64(o.Heel)+z*o.Gas.SD)
	}
	return q
}
