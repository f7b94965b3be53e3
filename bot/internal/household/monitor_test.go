package household

import (
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// airs lets the monitor show something at each step from now on, and returns what was said.
func (e *Engine) airs(step time.Duration, ppm ...unit.PPM) []notice.Notice {
	var said []notice.Notice
	for _, p := range ppm {
		said = append(said, e.Apply(record.Event{At: e.Now().Add(step), Kind: record.Air, PPM: p})...)
	}
	return ofKind(said, notice.PossibleLeak)
}

func monitored() *Engine {
	o := options()
	o.Cylinders[0].AirAlarm = 5000
	e := New(o)
	feedAll(e, readings(start, 10, 5_900, 55))
	return e
}

func TestAirAlarm(t *testing.T) {
	e := monitored()
	if said := e.airs(time.Minute, 450, 800, 1900, 4999); len(said) > 0 {
		t.Errorf("below the alarm it said %q", said[0].Text())
	}
	said := e.airs(time.Minute, 5000, 5200, 6000)
	if len(said) != 1 || said[0].Severity != notice.Danger || said[0].Follows != "" {
		t.Fatalf("at the alarm it said %v, want one danger at once", said)
	}
	if !strings.Contains(said[0].Headline, "5,000 ppm") || !strings.Contains(said[0].Text(), "everyone out") {
		t.Errorf("alarm reads %q", said[0].Text())
	}
	again := e.airs(20*time.Minute, 6000, 6100)
	if len(again) != 1 || again[0].Follows != said[0].Key {
		t.Errorf("while it lasts it said %v, want a repeat that follows the first", again)
	}
	back := e.airs(time.Minute, 4500, 3900, 600)
	if len(back) != 1 || back[0].Severity != notice.Info || back[0].Follows != said[0].Key {
		t.Errorf("when it was over it said %v, want one ending", back)
	}
}

func TestAirRisesWithALoss(t *testing.T) {
	e := monitored()
	e.airs(time.Hour, 450, 460, 440)
	e.found(e.cylinders[0], []forecast.Finding{{Kind: forecast.SlowLoss, At: e.Now(), Since: e.Now().Add(-48 * time.Hour), Mass: 240, Rate: 5, RateSD: 1}})
	said := e.airs(10*time.Minute, 500, 1200, 1300)
	if len(said) != 1 || said[0].Severity != notice.Danger || said[0].Follows == "" {
		t.Fatalf("a rise together with a loss said %v, want the alert raised once", said)
	}
	if !strings.Contains(said[0].Headline, "1,200 ppm instead of about 450") {
		t.Errorf("headline %q", said[0].Headline)
	}
}

func TestNoMonitorNoAlarm(t *testing.T) {
	e := New(options())
	feedAll(e, readings(start, 10, 5_900, 55))
	if said := e.airs(time.Minute, 450, 9000); len(said) > 0 {
		t.Errorf("without an alarm level it said %q", said[0].Text())
	}
}
