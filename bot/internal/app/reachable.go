package app

import (
	"fmt"

	"tarebell/config"
	"tarebell/forecast/co2"
	"tarebell/forecast/unit"
)

// Reachable finds a min_pressure that CO2 over its liquid never has at the cylinder's usual temperature, counted from 0 to 30 °C: above
// that there is no liquid.
func Reachable(c *config.Config) (wrong []config.Doubt) {
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
