package household

import (
	"math"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit/record"
)

// TestLostGasIsNoUse: gas that an open valve let out is told as lost and priced, and nobody pays for it.
func TestLostGasIsNoUse(t *testing.T) {
	e, _ := losing(5)
	e.Apply(record.Event{At: e.Now(), Kind: record.Answer, Cause: record.Repaired, By: "Joon"})
	a := e.Account(e.Now())
	if math.Abs(float64(a.Lost)-900) > 200 || math.Abs(float64(a.Used)-20*55) > 250 {
		t.Errorf("%v g lost and %v g used, want about 900 and 1100", a.Lost, a.Used)
	}
}

// TestLossEndsWithTheFill: a loss about which nobody said anything was no use, even when the cylinder is filled meanwhile.
func TestLossEndsWithTheFill(t *testing.T) {
	e, _ := losing(5)
	e.Apply(record.Event{At: e.Now().Add(time.Hour), Kind: record.Filled, Net: 6_000, By: "Joon"})
	a := e.Account(e.Now())
	if math.Abs(float64(a.Lost)-900) > 200 || math.Abs(float64(a.Used)-20*55) > 250 {
		t.Errorf("%v g lost and %v g used, want about 900 and 1100", a.Lost, a.Used)
	}
	if s, _ := e.Situation("", e.Now()); len(s.Losses) != 1 {
		t.Errorf("losses %+v, want the one", s.Losses)
	}
}

// TestLossesOfOneMoment: what is told in the same moment has keys of its own, or the second is never posted.
func TestLossesOfOneMoment(t *testing.T) {
	e := New(options())
	feedAll(e, readings(start, 2, 5_900, 55))
	e.out = nil
	e.found(e.find(""), []forecast.Finding{{Kind: forecast.SlowLoss, At: e.now, Since: start, Mass: 100, Rate: 5},
		{Kind: forecast.AbruptLoss, At: e.now, Since: start, Mass: 400, Rate: 200}})
	if len(e.out) != 2 || e.out[0].Key == e.out[1].Key || e.out[1].Follows != e.out[0].Key {
		t.Errorf("told %+v", e.out)
	}
}

// TestFirstThingsFirst: while gas escapes fast nobody is sent to book for it.
func TestFirstThingsFirst(t *testing.T) {
	_, said := losing(20)
	if len(ofKind(said, notice.PossibleLeak)) == 0 || len(ofKind(said, notice.RefillDue)) != 0 {
		t.Errorf("said %v", said)
	}
}
