// Package chart draws the pictures under a notice: state in, PNG out.
//
// A picture is a card with its own light background, so that it reads the same in a dark and in a light
// chat, and is drawn for a phone: 800 by 500 pixels shown about half as wide. What a mark means is written beside
// it instead of in a legend. The same input gives the same bytes.
//
// Colours are blue and vermilion of the set by Okabe and Ito (2008, "Color Universal Design"), which people with the
// common colour vision deficiencies can tell apart, darkened where they carry text.
package chart

import (
	"errors"
	"time"

	"tarebell/bot/internal/notice"
)

// Size of every picture in pixels.
const (
	Width  = 800
	Height = 500
)

// Units are those of the household.
type Units int

// The units.
const (
	Metric Units = iota
	US
)

// Point is what the cylinder held at a time.
type Point struct {
	At  time.Time
	Net float64 // g
}

// Band is what it may hold at a time: quantiles of the net gas in g, rising.
type Band struct {
	At                      time.Time
	P10, P25, P50, P75, P90 float64
}

// Spread is an uncertain moment. Zero times are unknown or too far away to tell.
type Spread struct{ P10, P50, P90 time.Time }

// Data is what Cylinder draws. Zero values are left out of the picture.
type Data struct {
	Title    string // what the picture shows, short
	Subtitle string // the answer, one line
	Now      time.Time
	Zone     *time.Location // nil: UTC
	Units    Units

	History   []Point // rising in time; one a day is plenty
	Fills     []time.Time
	Fan       []Band // from now on, rising in time; see Fan. Without it no date to come is drawn but that of a booked refill
	BookBy    time.Time
	Booked    time.Time // the refill is booked for that day; BookBy is then left out
	LiquidDry Spread    // the pressure, and with it the fizz, begins to fade
	RunOut    Spread
	Heel      float64 // g, gas that cannot be used
}

// ErrNothing is the error for a picture that would be empty.
var ErrNothing = errors.New("nothing to draw")

// voice says dates and masses in a picture as the words under it do.
func voice(zone *time.Location, u Units) notice.Voice { return notice.Voice{Zone: zone, US: u == US} }

func (d *Data) zone() *time.Location {
	if d.Zone == nil {
		return time.UTC
	}
	return d.Zone
}
