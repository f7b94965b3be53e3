package household

import (
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
)

// scale is whether weights come in, and whether they can be believed.
type scale struct {
	heard   time.Time      // last time it said anything
	polled  bool           // the last weight came from a scale
	silence string         // key of the notice that it is silent; empty: it is not
	trouble string         `checkpoint:"-"` // why the last try to read it failed; empty: not known
	doubted notice.Reading // the last reading, if it is not believed
	checks
}

// silentFrom is when its silence is to be told; zero: never.
func (s *scale) silentFrom(place *Cylinder) time.Time {
	if !(s.polled || place.Scale) || s.silence != "" || place.SilentAfter <= 0 || s.heard.IsZero() {
		return time.Time{}
	}
	return s.heard.Add(place.SilentAfter)
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
func (s *scale) hear(t turn, w forecast.Weighing) {
	if s.silence != "" && !w.Manual {
		t.say(t.voice.Heard(t.Place, s.heard), s.heard, "/back", s.silence)
	}
	s.heard, s.polled, s.silence = w.At, !w.Manual, ""
	if s.polled {
		s.trouble = ""
	}
}

// weighed records a weight, and whether it is doubted.
func (s *scale) weighed(w forecast.Weighing, doubted bool) {
	s.doubted = notice.Reading{}
	if doubted {
		s.doubted = notice.Reading{At: w.At, Gross: w.Gross}
	}
	if !w.Manual {
		s.checks.weighed(w)
	}
}
