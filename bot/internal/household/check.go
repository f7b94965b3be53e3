package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/calibration"
	"tarebell/forecast/unit"
)

// checkLater is how long a put-off check rests.
const checkLater = 14 * 24 * time.Hour

// receiptShare is the share of a receipt by which a supplier's scale may be off, one standard deviation; common
// practice, no source.
const receiptShare = 0.01

// checks is what is known about a scale since it was checked with known masses.
type checks struct {
	last    time.Time                                // or the first time it said anything
	checked bool                                     // it was a check
	told    [calibration.FillDisagrees + 1]time.Time // by reason
	first   string                                   // key of the notice that asked; empty: none
	later   time.Time                                // when to ask again, if that was wished; zero: it was not
	coldest unit.Celsius
	hottest unit.Celsius
	hasTemp bool
}

func (c *checks) done(at time.Time) { *c = checks{last: at, checked: true} }

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

// recheck asks, once for every occasion, for a check of the scale with a known mass, and again when that was wished. It waits while
// there is something graver about the scale or the gas.
func (e *Engine) recheck(it *item) {
	c := &it.checked
	if it.spare || !it.polled || it.silent || it.loss != nil || c.last.IsZero() || e.now.Before(c.later) {
		return
	}
	since := e.sinceCheck(it)
	why := calibration.Recheck(since, e.now)
	asked := !c.later.IsZero() && len(why) > 0
	for _, w := range why {
		asked = asked || e.occasion(it, w)
	}
	if !asked {
		return
	}
	key := e.key(it, notice.OddReading, e.now) + "/check"
	e.say(e.opt.Voice.CheckScale(e.place(it), notice.Check{Why: why, Checked: c.checked, Last: c.last, Coldest: c.coldest, Hottest: c.hottest,
		From: since.From, To: since.To, Receipt: since.Receipt, Seen: since.Scale}, key, c.first))
	if c.first == "" {
		c.first = key
	}
	c.later = time.Time{}
	for _, w := range why {
		c.told[w] = e.now
	}
}

// occasion reports whether a reason is news: it was not told since the last check, or half a year ago, or of another fill.
func (e *Engine) occasion(it *item, why calibration.Reason) bool {
	at := it.checked.told[why]
	if at.IsZero() || !e.now.Before(at.AddDate(0, 6, 0)) {
		return true
	}
	return why == calibration.FillDisagrees && it.last().At.After(at)
}

// sinceCheck is what a scale went through since it was checked.
func (e *Engine) sinceCheck(it *item) calibration.Since {
	c := &it.checked
	s := calibration.Since{Last: c.last, Coldest: c.coldest, Hottest: c.hottest, HasTemp: c.hasTemp, From: it.site.ScaleFrom, To: it.site.ScaleTo}
	if s.From == 0 && s.To == 0 {
		s.From, s.To = calibration.Coldest, calibration.Hottest
	}
	if p := it.last(); p != nil && p.Seen > 0 && p.At.After(c.last) {
		s.Receipt, s.Scale = p.Receipt, p.Seen
		s.DisagreementSD = unit.Grams(math.Hypot(float64(p.SeenSD), receiptShare*float64(p.Receipt)))
	}
	return s
}
