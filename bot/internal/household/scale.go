package household

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/calibration"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// scale is whether weights come in, and whether they can be believed.
type scale struct {
	heard   time.Time      // last time it said anything
	polled  bool           // the last weight came from a scale
	silence string         // key of the notice that it is silent; empty: it is not
	pauses  []Pause        `checkpoint:"-"` // see Engine.Paused
	trouble string         `checkpoint:"-"` // why the last try to read it failed; empty: not known
	doubted notice.Reading // the last reading, if it is not believed
	checks
}

// silentFrom is when its silence is to be told; zero: never.
func (s *scale) silentFrom(place *Cylinder) time.Time {
	if !(s.polled || place.Scale) || s.silence != "" || place.SilentAfter <= 0 || s.heard.IsZero() {
		return time.Time{}
	}
	return after(s.heard, place.SilentAfter, s.pauses)
}

// fallSilent tells that nothing is heard of it.
func (s *scale) fallSilent(t turn) {
	last := s.heard
	if !s.polled {
		last = time.Time{} // it never answered at all
	}
	s.silence = t.say(t.voice.Silent(t.Place, last, s.trouble), s.heard, "", "")
}

// hear records that a weight came in; that the scale is back is told if its silence was.
func (s *scale) hear(t turn, w record.Event) {
	s.polled = w.Origin != record.Manual
	if s.silence != "" && s.polled {
		t.say(t.voice.Heard(t.Place, s.heard), s.heard, "/back", s.silence)
	}
	s.heard, s.silence = w.At, ""
	if s.polled {
		s.trouble = ""
	}
}

// weighed records a weight, and whether it is doubted.
func (s *scale) weighed(w record.Event, doubted bool) {
	s.doubted = notice.Reading{}
	if doubted {
		s.doubted = notice.Reading{At: w.At, Gross: w.Gross}
	}
	if w.Origin != record.Manual {
		s.checks.weighed(w)
	}
}

// checkLater is how long a put-off check rests.
const checkLater = 14 * 24 * time.Hour

// receiptShare is the share of a receipt by which a supplier's scale may be off, one standard deviation; common
// practice, no source.
const receiptShare = 0.01

// checks is what is known about a scale since it was checked with known masses.
type checks struct {
	calibration.Since                                          // Last is when it was checked, or the first time it said anything
	checked           bool                                     // it was checked
	told              [calibration.FillDisagrees + 1]time.Time // by reason
	first             string                                   // key of the notice that asked; empty: none
	later             time.Time                                // when to ask again, if that was wished; zero: it was not
}

func (c *checks) done(at time.Time) { *c = checks{Since: calibration.Since{Last: at}, checked: true} }

// weighed records what a scale went through.
func (c *checks) weighed(w record.Event) {
	if c.Last.IsZero() {
		c.Last = w.At
	}
	switch {
	case !w.HasTemp:
	case !c.HasTemp:
		c.Coldest, c.Hottest, c.HasTemp = w.Temp, w.Temp, true
	default:
		c.Coldest, c.Hottest = min(c.Coldest, w.Temp), max(c.Hottest, w.Temp)
	}
}

// recheck asks, once for every occasion, for a check of the scale with a known mass, and again when that was wished. present is the present fill.
func (s *scale) recheck(t turn, place *Cylinder, present *fill) {
	if !s.polled || s.silence != "" || s.Last.IsZero() || t.Now.Before(s.later) {
		return
	}
	since := s.sinceCheck(place, present)
	why := calibration.Recheck(since, t.Now)
	asked := !s.later.IsZero() && len(why) > 0
	for _, w := range why {
		asked = asked || s.occasion(w, t.Now, present)
	}
	if !asked {
		return
	}
	key := t.say(t.voice.CheckScale(t.Place, notice.Check{Since: since, Why: why, Checked: s.checked}), t.Now, "/check", s.first)
	if s.first == "" {
		s.first = key
	}
	s.later = time.Time{}
	for _, w := range why {
		s.told[w] = t.Now
	}
}

// occasion reports whether a reason is news: it was not told since the last check, or half a year ago, or of another fill.
func (c *checks) occasion(why calibration.Reason, now time.Time, present *fill) bool {
	at := c.told[why]
	if at.IsZero() || !now.Before(at.AddDate(0, 6, 0)) {
		return true
	}
	return why == calibration.FillDisagrees && present.At.After(at)
}

// sinceCheck is what a scale went through since it was checked, by the place and the present fill.
func (c *checks) sinceCheck(place *Cylinder, present *fill) calibration.Since {
	s := c.Since
	s.From, s.To = place.ScaleFrom, place.ScaleTo
	if s.From == 0 && s.To == 0 {
		s.From, s.To = calibration.Coldest, calibration.Hottest
	}
	if p := present; p != nil && p.Seen > 0 && p.At.After(c.Last) {
		s.Receipt, s.Scale = p.Receipt, p.Seen
		s.DisagreementSD = unit.Grams(math.Hypot(float64(p.SeenSD), receiptShare*float64(p.Receipt)))
	}
	return s
}
