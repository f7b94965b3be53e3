package app

import (
	"time"

	"tarebell/bot/internal/command"
	"tarebell/bot/internal/household"
	"tarebell/config"
	"tarebell/forecast/unit"
)

// plausible is what the desk knows of the cylinders, to tell a likely weight from an unlikely one.
func plausible(c *config.Config, o household.Options) []command.Cylinder {
	var out []command.Cylinder
	for _, cyl := range o.Cylinders {
		f := cyl.Forecast
		out = append(out, command.Cylinder{Name: cyl.Name, Tare: f.Tare, Empty: f.Tare + f.Fittings, Full: f.Tare + f.Fittings + f.NetFill,
			Net: f.NetFill, Scale: scaleOf(c, cyl.Name)})
	}
	return out
}

func scaleOf(c *config.Config, name string) *command.Scale {
	for _, cyl := range c.Cylinders {
		if cyl.Name != name || cyl.Scale == nil {
			continue
		}
		s := &command.Scale{Unit: cyl.Scale.Unit}
		if raw := cyl.Scale.Raw; raw != nil {
			s.Raw, s.Zero, s.PerUnit = true, raw.Zero, raw.PerUnit
		}
		return s
	}
	return nil
}

// accounts are the members with their chat accounts.
func accounts(c *config.Config) []command.Member {
	var out []command.Member
	for _, m := range c.Household.Members {
		out = append(out, command.Member{Name: m.Name, ID: m.ID})
	}
	return out
}

// currency is that of the prices in the config, "" without any.
func currency(c *config.Config) string {
	for _, m := range []unit.Money{c.Refill.Price, c.Refill.Alternative, c.Refill.Outlay} {
		if m.Known() {
			return m.Code()
		}
	}
	return ""
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
