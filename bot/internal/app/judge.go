package app

import (
	"fmt"

	"tarebell/bot/internal/holiday"
	"tarebell/config"
	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
)

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
