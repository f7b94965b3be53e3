package config

import "tarebell/forecast/unit"

// saturationBar is the pressure of CO2 over its liquid, in bar from 0 °C to 30 °C in steps of 5 °C: Span &
// Wagner (1996) solved for equal pressure and Gibbs energy. The physics proper lives in forecast; this
// package, which must not import it, only needs to know a pressure that cannot be reached.
var saturationBar = [...]float64{34.85142, 39.69466, 45.02184, 50.87148, 57.29054, 64.34246, 72.13689}

// saturation interpolates saturationBar; outside it takes the nearer end. Between the points the curve lies
// at most 0.11 bar lower.
func saturation(t unit.Celsius) unit.Pascals {
	x := min(max(float64(t)/5, 0), float64(len(saturationBar)-1))
	i := min(int(x), len(saturationBar)-2)
	lo, hi := saturationBar[i], saturationBar[i+1]
	return unit.Bar(lo + (x-float64(i))*(hi-lo))
}
