package household

import (
	"math"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/calibration"
	"tarebell/forecast/unit"
)

// checks is what is known about a scale since it was checked with known masses.
type checks struct {
	last    time.Time // or the first time it said anything
	told    time.Time // when a check was asked for; zero: not since
	coldest unit.Celsius
	hottest unit.Celsius
	hasTemp bool
}

func (c *checks) done(at time.Time) { *c = checks{last: at} }

// weighed takes down what a scale went through.
func (c *checks) weighed(w forecast.Weighing) {
	if w.Manual {
		return
	}
	if c.last.IsZero() {
		c.last = w.At
	}
	switch {
	case !w.HasTemp:
	case !c.hasTemp:
		c.coldest, c.hottest, c.hasTemp = w.Temp, w.Temp, true
	default:
		c.coldest, c.hottest = min(c.coldest, w.Temp), max(c.hottest, w.Temp)
	}
}

// recheck puts into the weekly status, once, that the scale should be checked again, and why.
func (e *Engine) recheck(it *item) {
	c := &it.checked
	if !it.polled || c.last.IsZero() || !c.told.IsZero() && c.told.AddDate(0, 6, 0).After(e.now) {
		return
	}
	since := calibration.Since{Last: c.last, Coldest: c.coldest, Hottest: c.hottest, HasTemp: c.hasTemp}
	if p := it.last(); p != nil && p.Seen > 0 && p.At.After(c.last) {
		since.Receipt, since.Scale = p.Receipt, p.Seen
		since.DisagreementSD = unit.Grams(math.Hypot(float64(p.SeenSD), receiptShare*float64(p.Receipt)))
	}
	if why := calibration.Recheck(since, e.now); len(why) > 0 {
		c.told = e.now
		it.changed = append(it.changed, e.opt.Voice.Recheck(why))
	}
}

// receiptShare is the share of a receipt by which a supplier's scale may be off, one standard deviation; common
// practice, no source.
const receiptShare = 0.01
