package forecast

import (
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// settled is a household that draws 40 g a day and has typed a weight a week for six weeks; 8.1 kg are left.
func settled(t *testing.T) *scribe {
	t.Helper()
	s := newScribe(10000)
	for i := range 7 {
		s.wants(t, 7, 9780-unit.Grams(i)*280)
	}
	return s
}

// loss is the last finding of a weight.
func (s *scribe) loss(days float64, net unit.Grams) (f Finding) {
	s.at = s.at.Add(time.Duration(days * 24 * float64(time.Hour)))
	for _, f = range s.c.Apply(record.Event{Kind: record.Weighed, At: s.at, Gross: 24000 + net, Origin: record.Manual}) {
	}
	return f
}

// TestLeakTyped: a fitting leaks 20 g/h. The weight that shows it is asked about; the next one tells that it goes on, how fast, and, once it is mended, that
// it has stopped. What went was no use.
func TestLeakTyped(t *testing.T) {
	s := settled(t)
	use := s.c.Outlook(s.at).Use.Mean
	s.wants(t, 7, 8100-280-2900, Implausible)
	f := s.loss(1.5, 8100-340-3620)
	if f.Kind != AbruptLoss || f.Rate < 12 || f.Rate > 28 || f.Mass < 3300 || f.Mass > 3900 {
		t.Fatalf("found %+v, want a loss of 20 g/h and 3620 g", f)
	}
	if l := s.c.Outlook(s.at).Loss; l.Mean < 12 || l.Mean > 28 {
		t.Errorf("a loss of %.0f g/h, want 20", l.Mean)
	}
	s.c.Apply(record.Event{At: s.at, Kind: record.Answer, Cause: record.Repaired})
	s.wants(t, 7, 8100-620-3620)
	s.wants(t, 7, 8100-900-3620)
	s.holds(t, 8100-900-3620)
	if now := s.c.Outlook(s.at).Use.Mean; now > 1.5*use {
		t.Errorf("%.0f g a day after the loss, %.0f before", now, use)
	}
}

// TestSlowLeakTyped: 7 g/h leave while the household draws 1.7 g/h; that is told within three weeks.
func TestSlowLeakTyped(t *testing.T) {
	s := settled(t)
	for i := range 3 {
		if f := s.loss(7, 8100-unit.Grams(i+1)*(280+1200)); f.Rate > 0 {
			if f.Rate < 4 || f.Rate > 11 {
				t.Errorf("a loss of %.1f g/h, want 7", float64(f.Rate))
			}
			return
		}
	}
	t.Error("three weeks of a leak, and nobody was told")
}

// TestSecondWeight: a week in which 1.6 kg more went than the household draws raises the question. The week after answers it, by three standard deviations of
// what two weights and its use scatter: 500 g more may be either, 800 g are a loss that goes on.
func TestSecondWeight(t *testing.T) {
	for more, loss := range map[unit.Grams]bool{500: false, 800: true} {
		s := settled(t)
		s.wants(t, 7, 8100-280-1600, Implausible)
		if f := s.loss(7, 8100-560-1600-more); (f.Rate > 0) != loss {
			t.Errorf("%.0f g more: found %+v, want a loss: %v", float64(more), f, loss)
		}
	}
}

// TestLeakTypedStops: what was not mended by anybody, but stopped, is told by the weights that follow.
func TestLeakTypedStops(t *testing.T) {
	s := settled(t)
	s.wants(t, 7, 8100-280-2900, Implausible)
	s.wants(t, 1.5, 8100-340-3620, AbruptLoss)
	s.wants(t, 7, 8100-620-3700, LossStopped)
	if l := s.c.Outlook(s.at).Loss.Mean; l != 0 {
		t.Errorf("%.0f g/h still believed", l)
	}
}

// TestNoLeakTyped: what is no leak that goes on, or may be use, is not told as one.
func TestNoLeakTyped(t *testing.T) {
	type weight struct {
		days float64
		net  unit.Grams
	}
	for name, weights := range map[string][]weight{
		"an open valve, shut by now":  {{7, 5100}, {1, 5080}, {7, 4800}, {7, 4500}},
		"a slip":                      {{7, 3300}, {0.1, 7800}, {7, 7500}},
		"guests for three weeks":      {{7, 7200}, {7, 6300}, {7, 5400}, {7, 5100}},
		"a party, weighed during it":  {{6.5, 7300}, {0.5, 6900}, {7, 6600}},
		"the scale of a shaky friend": {{7, 7400}, {7, 7900}, {1, 7100}, {7, 7300}},
	} {
		s := settled(t)
		for _, w := range weights {
			for _, k := range s.types(w.days, w.net) {
				if k == AbruptLoss || k == SlowLoss {
					t.Errorf("%s: a loss at %.0f g", name, float64(w.net))
				}
			}
		}
	}
}

// TestDryTyped: gas that is gone days after a weight that left months is told as lost; gas that was used up is not, nor what cannot leak so fast.
func TestDryTyped(t *testing.T) {
	for _, c := range []struct {
		days float64
		lost bool
	}{{0.1, false}, {3, true}, {38, true}, {60, false}, {190, false}} {
		s := settled(t)
		use := s.c.Outlook(s.at).Use.Mean
		s.at = s.at.Add(time.Duration(c.days * 24 * float64(time.Hour)))
		found := s.c.Apply(record.Event{At: s.at, Kind: record.RanDry})
		if lost := len(found) == 1 && found[0].Kind == AbruptLoss && found[0].Mass > 6000 && found[0].Rate == 0; lost != c.lost {
			t.Errorf("dry after %.0f days: found %+v", c.days, found)
		}
		s.c.Apply(record.Event{At: s.at, Kind: record.Filled, Net: 10000})
		if now := s.c.Outlook(s.at).Use.Mean; now < use/2 || now > 2*use {
			t.Errorf("dry after %.0f days: %.0f g a day, before %.0f", c.days, now, use)
		}
	}
}
