package config

import (
	"fmt"
	"strings"
	"time"

	"github.com/robfig/cron/v3"
)

// Doubt is something that can be, but seldom is.
type Doubt struct{ Path, Said string }

// What is usual. Tares: 46 lb of aluminium for 50 lb of gas at the light end, 14 lb of steel for 5 lb (2.8 times) at the heavy one (ranges over makers,
// from memory). Filling: DOT cylinders at 0.68, with a fifth less for a careful or hot filling (common practice, no source).
const (
	lightTare, heavyTare          = 0.9, 3.0
	usualLeast, usualMost         = 0.54, 0.75
	dearest                       = 10 // of a big currency, for a litre bought
	longLead                      = 42 // days
	thirstiest            float64 = 25 // litres a day
)

// bigCurrencies are those of which ten buy no litre of a drink anywhere (common practice, no source).
const bigCurrencies = "EUR USD GBP CHF CAD AUD NZD"

// Doubts lists what is unlikely in c, with the usual range and where that comes from.
func (c *Config) Doubts() []Doubt {
	var out []Doubt
	add := func(path, format string, args ...any) {
		out = append(out, Doubt{path, fmt.Sprintf(format, args...)})
	}
	for i, cyl := range c.Cylinders {
		path := fmt.Sprintf("cylinders[%d]", i)
		if r := float64(cyl.Tare / cyl.NetFill); r < lightTare || r > heavyTare {
			add(path+".tare", "%.3g kg for %.3g kg of gas; CO2 cylinders weigh %g to %g times their gas, from 50 lb aluminium to 5 lb steel (makers' tables, from memory): is a unit wrong, or the fittings within?",
				cyl.Tare.Kilograms(), cyl.NetFill.Kilograms(), lightTare, heavyTare)
		}
		if l := float64(cyl.Capacity); l > 0 {
			if r := cyl.NetFill.Kilograms() / l; r < usualLeast || r > usualMost {
				add(path+".water_capacity", "%.2f kg of gas per litre; usual is %.2f to %.2f (0.68 in 49 CFR 173.304a, 0.75 in ADR P200)", r, usualLeast, usualMost)
			}
		}
		if cyl.Fittings > cyl.Tare/2 {
			add(path+".fittings", "%.3g kg rest on the scale besides a cylinder of %.3g kg; a regulator with hose weighs 1 to 3 kg (common practice, no source)", cyl.Fittings.Kilograms(), cyl.Tare.Kilograms())
		}
	}
	if a := c.Refill.Alternative; a.Known() && strings.Contains(bigCurrencies, a.Code()) && a.Amount() > dearest {
		add("refill.alternative", "%g %s for one litre; a litre in a shop costs 0.2 to 3 (common practice, no source): is it the price of more?", a.Amount(), a.Code())
	}
	if c.Refill.LeadDays > longLead {
		add("refill.lead_days", "%d days; suppliers take 1 to 14 (common practice, no source)", c.Refill.LeadDays)
	}
	if l := float64(c.Household.LitresPerDay); l > thirstiest {
		add("household.litres_per_day", "%.3g L a day; households drink 1 to 10 (common practice, no source)", l)
	}
	if soonest(c.Schedule.Status) < 24*time.Hour {
		add("schedule.status", "comes more than once a day; once a week is usual")
	}
	return out
}

// soonest is the shortest time between two of the next moments of a cron spec that was read already.
func soonest(spec string) time.Duration {
	s, err := cron.ParseStandard(spec)
	if err != nil {
		return 365 * 24 * time.Hour
	}
	shortest := 365 * 24 * time.Hour
	last := s.Next(time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC))
	for range 64 {
		next := s.Next(last)
		if next.IsZero() {
			break
		}
		shortest, last = min(shortest, next.Sub(last)), next
	}
	return shortest
}
