package calibration

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Reason is why a scale should be checked with a known mass again.
type Reason int

// The reasons.
const (
	HalfYear      Reason = iota // half a year has passed
	TooCold                     // it stood outside the range of temperature that load cells are made for
	TooHot                      //
	FillDisagrees               // the scale and the receipt of a fill do not agree
)

// Load cells are specified from -10 to 40 °C unless marked otherwise (OIML R 60-1, read in a secondary source).
const (
	Coldest unit.Celsius = -10
	Hottest unit.Celsius = 40
)

// Since is what has happened since the last check.
type Since struct {
	Last           time.Time    // of the check; zero: never checked, which counts as half a year
	Coldest        unit.Celsius // extremes of temperature, meaningful if HasTemp
	Hottest        unit.Celsius
	HasTemp        bool
	From, To       unit.Celsius // what the scale is made for; both 0: Coldest to Hottest
	Receipt, Scale unit.Grams   // net of the last fill by receipt and by scale; a Receipt of 0: unknown
	DisagreementSD unit.Grams   // standard deviation of Scale - Receipt
}

// Recheck is why the scale should be checked again at now; none when there is no reason. A fill disagrees when
// scale and receipt differ by more than three standard deviations. Half a year is six calendar months.
func Recheck(s Since, now time.Time) []Reason {
	var why []Reason
	if s.Last.IsZero() || !now.Before(s.Last.AddDate(0, 6, 0)) {
		why = append(why, HalfYear)
	}
	from, to := s.From, s.To
	if from == 0 && to == 0 {
		from, to = Coldest, Hottest
	}
	if s.HasTemp && s.Coldest < from {
		why = append(why, TooCold)
	}
	if s.HasTemp && s.Hottest > to {
		why = append(why, TooHot)
	}
	if off := math.Abs(float64(s.Scale - s.Receipt)); s.Receipt > 0 && s.DisagreementSD > 0 && off > 3*float64(s.DisagreementSD) {
		why = append(why, FillDisagrees)
	}
	return why
}
