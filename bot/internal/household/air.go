package household

import (
	"fmt"
	"math"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

// outdoor is the CO2 in outdoor air, about 420 ppm (2020s; from memory).
const outdoor = 420

// gasDensity is that of CO2 at 20 °C and 1 atm, g/L.
const gasDensity = 1.839

// air is what a loss at rate g/h would make of the room's air by a well-mixed balance.
func air(c *Cylinder, rate unit.GramsPerHour) notice.Air {
	if c.RoomVolume <= 0 || rate <= 0 {
		return notice.Air{}
	}
	a := notice.Air{Known: true, Volume: c.RoomVolume, AirChanges: c.AirChanges}
	perHour := float64(rate) / gasDensity / float64(c.RoomVolume) * 1e6 // ppm/h
	at := func(h float64) unit.PPM {
		if c.AirChanges <= 0 {
			return unit.PPM(outdoor + perHour*h)
		}
		return unit.PPM(outdoor + perHour/c.AirChanges*(1-math.Exp(-c.AirChanges*h)))
	}
	a.After15, a.After60 = at(0.25), at(1)
	a.Steady = 1e6
	if c.AirChanges > 0 {
		a.Steady = unit.PPM(math.Min(1e6, outdoor+perHour/c.AirChanges))
	}
	return a
}

// worth prices lost gas at the price of a fill.
func (c *Cylinder) worth(m unit.Grams) string {
	if c.Price.PerFill <= 0 || c.Forecast.NetFill <= 0 {
		return ""
	}
	return fmt.Sprintf("%.2f %s", c.Price.PerFill*float64(m)/float64(c.Forecast.NetFill), c.Price.Currency)
}
