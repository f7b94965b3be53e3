// Package app wires the parts into a running program: config in, adapters chosen, everything started and
// stopped in order. It is the only package that imports adapters.
package app

import (
	"fmt"
	"hash/fnv"
	"slices"
	"time"

	"tarebell/bot/internal/command"
	"tarebell/bot/internal/holiday"
	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
	"tarebell/bot/internal/schedule"
	"tarebell/config"
	"tarebell/forecast"
	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// reviewHour is when the daily review comes if no quiet hours say when the day begins.
const reviewHour = 8

// Household translates the config into what the engine takes.
func Household(c *config.Config) (household.Options, error) {
	h := c.Household
	o := household.Options{Voice: notice.Voice{Zone: h.Location, System: h.Units}, ReviewHour: reviewHour,
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
	if region := c.Refill.Holidays; region != "" {
		days, err := holiday.For(region)
		if err != nil {
			return o, err
		}
		o.Refill.Holiday = days.Name
	}
	for _, cyl := range inUseFirst(c) {
		o.Cylinders = append(o.Cylinders, cylinder(c, cyl))
	}
	return o, nil
}

// inUseFirst are the cylinders of the config, those that wait their turn behind the others.
func inUseFirst(c *config.Config) []config.Cylinder {
	waits := map[bool]int{true: 1}
	return slices.SortedStableFunc(slices.Values(c.Cylinders), func(a, b config.Cylinder) int { return waits[a.Spare] - waits[b.Spare] })
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
	if s := cyl.Stock; s != nil {
		out.Stock, out.StockBy = s.Price, s.Payer
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

// cylinders are those of the config, as the household is ordered.
func cylinders(c *config.Config) (out []record.Cylinder) {
	for _, cyl := range inUseFirst(c) {
		out = append(out, cyl.Cylinder)
	}
	return out
}

// scalesOf is how the scales of the config speak, by cylinder.
func scalesOf(c *config.Config) map[string]command.Scale {
	out := map[string]command.Scale{}
	for _, cyl := range c.Cylinders {
		if s := cyl.Scale; s != nil {
			out[cyl.Name] = command.Scale{Unit: s.Unit}
			if raw := s.Raw; raw != nil {
				out[cyl.Name] = command.Scale{Unit: s.Unit, Raw: true, Zero: raw.Zero, PerUnit: raw.PerUnit}
			}
		}
	}
	return out
}

// closed says why the supplier is closed on a day, "" when it is open.
func closed(o household.Options) func(time.Time) string {
	return func(day time.Time) string {
		day = day.In(o.Voice.Zone)
		if o.Refill.Holiday != nil {
			if name := o.Refill.Holiday(day); name != "" {
				return name
			}
		}
		if o.Refill.Open != nil && !o.Refill.Open(day) {
			return day.Weekday().String()
		}
		return ""
	}
}

// Judge finds what in a config cannot be by the physics of CO2 and the calendars that are known.
func Judge(c *config.Config) []config.Doubt {
	wrong := unreachable(c)
	if r := c.Refill.Holidays; r != "" {
		if _, err := holiday.For(r); err != nil {
			wrong = append(wrong, config.Doubt{Path: "refill.holidays", Said: err.Error()})
		}
	}
	return wrong
}

// unreachable finds a min_pressure that CO2 over its liquid never has at the cylinder's usual temperature, counted from 0 to 30 °C: above
// that there is no liquid.
func unreachable(c *config.Config) (wrong []config.Doubt) {
	for i, cyl := range c.Cylinders {
		at := config.Default().Cylinders[0].Room.Temperature
		if cyl.Room != nil {
			at = cyl.Room.Temperature
		}
		s, err := co2.Saturation(unit.Celsius(min(max(float64(at), 0), 30)))
		if err == nil && cyl.MinPressure >= s.P {
			wrong = append(wrong, config.Doubt{Path: fmt.Sprintf("cylinders[%d].min_pressure", i),
				Said: fmt.Sprintf("never reached: CO2 over its liquid has %.1f bar at %.4g C", s.P.Bar(), float64(at))})
		}
	}
	return wrong
}
