package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Options describes a household. Functions in it are pure.
type Options struct {
	Voice      notice.Voice
	NextStatus func(after time.Time) time.Time // when the next weekly status is due; zero: never
	ReviewHour int                             // hour of the day, 0-23, of the daily review
	Cylinders  []Cylinder                      // one at least
	Refill     Refill
	Members    []record.Member // in the order of the config; none: nobody takes turns
}

// Refill is how a refill is got.
type Refill struct {
	record.Refill
	Open    func(day time.Time) bool   // whether the supplier is open; nil: every day
	Holiday func(day time.Time) string // the public holiday that it closes on; nil: none
}

// Cylinder is one cylinder of the household, and what the config puts in its place: scale, room and monitor.
type Cylinder struct {
	Name          string
	Forecast      forecast.Options
	RoomVolume    unit.Litres // 0: unknown
	AirChanges    float64     // per hour
	SilentAfter   time.Duration
	Scale         bool         // a scale is there, though it may never have answered
	ScaleFrom     unit.Celsius // what it is made for; both 0: what load cells usually are
	ScaleTo       unit.Celsius
	AirAlarm      unit.PPM    // of the CO2 monitor; 0: there is none
	Retest        time.Time   // zero: unknown
	GramsPerLitre float64     // gas per litre of drink; 0: unknown
	Litres        unit.Litres // of drink in a serving; 0: unknown
	Spare         bool        // waits its turn, full
	Stock         unit.Money  // what the gas cost that was in it at the first weighing; zero: nothing is charged for it
	StockBy       string      // who paid for that
}
