// Package app wires the parts into a running program: config in, adapters chosen, everything started and
// stopped in order. It is the only package that imports adapters.
package app

import (
	"hash/fnv"
	"time"

	"tarebell/bot/internal/holiday"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/schedule"
	"tarebell/config"
	"tarebell/forecast"
	"tarebell/forecast/unit"
)

// reviewHour is when the daily review comes if no quiet hours say when the day begins.
const reviewHour = 8

// Household translates the config into what the engine takes.
func Household(c *config.Config) (household.Options, error) {
	h := c.Household
	o := household.Options{Zone: h.Location, Voice: notice.Voice{Zone: h.Location, System: h.Units}, ReviewHour: reviewHour,
		Refill:  household.Refill{Refill: c.Refill.Refill, Open: open(c)},
		Members: c.Household.Members}
	if h.Quiet.Any() {
		o.ReviewHour = (int(h.Quiet.To) + 59) / 60 % 24
	}
	spec, err := schedule.Parse(c.Schedule.Status, h.Location)
	if err != nil {
		return o, err
	}
	o.NextStatus = spec.Next
	if o.Refill.Holiday, err = closing(c.Refill.Holidays); err != nil {
		return o, err
	}
	for _, spare := range []bool{false, true} { // a cylinder in use comes first
		for _, cyl := range c.Cylinders {
			if cyl.Spare == spare {
				out := cylinder(c, cyl)
				if s := cyl.Stock; s != nil {
					out.Stock, out.StockBy = s.Price, s.Payer
				}
				o.Cylinders = append(o.Cylinders, out)
			}
		}
	}
	return o, nil
}

// closing is the public holiday of a day in a region; nil for none.
func closing(region string) (func(time.Time) string, error) {
	if region == "" {
		return nil, nil
	}
	days, err := holiday.For(region)
	if err != nil {
		return nil, err
	}
	return days.Name, nil
}

func cylinder(c *config.Config, cyl config.Cylinder) household.Cylinder {
	perLitre := 0.0
	if c.Serving.CO2 > 0 && c.Serving.Litres > 0 {
		perLitre = float64(c.Serving.CO2) / float64(c.Serving.Litres)
	}
	out := household.Cylinder{
		Name: cyl.Name,
		Forecast: forecast.Options{
			Tare: cyl.Tare, Fittings: cyl.Fittings, NetFill: cyl.NetFill, Swapped: c.Refill.Swap, Capacity: cyl.Capacity,
			MinPressure: cyl.MinPressure, Serving: c.Serving.CO2, Location: c.Household.Location,
			UsePrior: unit.GramsPerDay(float64(c.Household.LitresPerDay) * perLitre), Seed: seed(cyl.Name),
			Quiet: forecast.Quiet{From: time.Duration(c.Household.Quiet.From) * time.Minute, To: time.Duration(c.Household.Quiet.To) * time.Minute},
		},
		GramsPerLitre: perLitre, Litres: c.Serving.Litres, Spare: cyl.Spare,
	}
	if cyl.Room != nil {
		out.RoomVolume, out.AirChanges, out.Forecast.Room = cyl.Room.Volume, cyl.Room.AirChanges, cyl.Room.Temperature
	}
	if cyl.Scale != nil {
		out.Scale, out.SilentAfter = true, cyl.Scale.SilentAfter
		out.ScaleFrom, out.ScaleTo = cyl.Scale.Climate.From, cyl.Scale.Climate.To
	}
	if cyl.CO2Monitor != nil {
		out.AirAlarm = cyl.CO2Monitor.Alarm
	}
	if out.SilentAfter == 0 {
		out.SilentAfter = 26 * time.Hour // a recorded scale: longer than the usual night's gap
	}
	if cyl.Retest != nil {
		out.Retest = cyl.Retest.Due()
	}
	return out
}

// seed makes the forecast's chance depend on nothing but the cylinder's name.
func seed(name string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(name))
	return h.Sum64()
}

// open reports the days on which the supplier is open.
func open(c *config.Config) func(time.Time) bool {
	var days [7]bool
	for _, d := range c.Refill.Open {
		days[d] = true
	}
	return func(t time.Time) bool { return days[t.Weekday()] }
}

// quiet reports whether only dangers are to be posted at t, and until when; nil: never.
func quiet(c *config.Config) func(time.Time) (time.Time, bool) {
	q := c.Household.Quiet
	if !q.Any() {
		return nil
	}
	return schedule.Quiet{From: time.Duration(q.From) * time.Minute, To: time.Duration(q.To) * time.Minute,
		Location: c.Household.Location}.Until
}
