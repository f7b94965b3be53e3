package app

import (
	"time"

	"tarebell/bot/internal/command"
	"tarebell/bot/internal/household"
	"tarebell/config"
	"tarebell/forecast/unit/record"
)

// cylinders are those of the config, as the household is ordered.
func cylinders(c *config.Config) []record.Cylinder {
	var out []record.Cylinder
	for _, spare := range []bool{false, true} { // a cylinder in use comes first
		for _, cyl := range c.Cylinders {
			if cyl.Spare == spare {
				out = append(out, cyl.Cylinder)
			}
		}
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
		day = day.In(o.Zone)
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
