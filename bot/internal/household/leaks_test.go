package household

import (
	"math"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
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

// TestNobodyAnswers: an alert that nobody answers, of a scale that says no more, is repeated ever more rarely, and never tells of more gas than was seen to
// go.
func TestNobodyAnswers(t *testing.T) {
	e, said := losing(8)
	for range 60 * 24 {
		said = append(said, e.Advance(e.Now().Add(time.Hour))...)
	}
	alerts := ofKind(said, notice.PossibleLeak)
	if n := len(alerts); n < 8 || n > 18 {
		t.Errorf("%d alerts in two months", n)
	}
	if gap := alerts[len(alerts)-1].At.Sub(alerts[len(alerts)-2].At); gap < 7*day {
		t.Errorf("after two months the alert is repeated every %s", gap)
	}
	s, _ := e.Situation("", e.Now())
	for _, l := range append(e.leaksOf().all(s.Outlook), s.Losses...) {
		if l.Mass > 1.05*8*180 {
			t.Errorf("%.0f g are told to be lost, %d were seen to go", float64(l.Mass), 8*180)
		}
	}
}

// TestEmptiedOvernight: gas that is gone at one stroke, down to an empty cylinder, is told as what it is, once; the refill is to be booked, and nothing is said to
// go on leaving.
func TestEmptiedOvernight(t *testing.T) {
	e := New(options())
	ws := readings(start, 40, 5_900, 55)
	feedAll(e, ws)
	w := ws[len(ws)-1]
	w.At = w.At.Add(4 * time.Hour)
	var said []notice.Notice
	for h := range 7 * 24 {
		w.At, w.Gross = w.At.Add(time.Hour), unit.Grams(10_030+h*5%17)
		said = append(said, e.Apply(w)...)
	}
	alerts := ofKind(said, notice.PossibleLeak)
	if len(alerts) != 1 || alerts[0].Severity != notice.Danger || len(ofKind(said, notice.RefillDue)) == 0 || len(ofKind(said, notice.OddReading)) > 0 {
		t.Fatalf("said %v", said)
	}
	s, _ := e.Situation("", e.Now())
	if n := len(s.Losses); n != 1 || !s.Losses[0].To.Before(alerts[0].At.Add(time.Hour)) || math.Abs(float64(s.Losses[0].Mass)-3_700) > 300 {
		t.Errorf("losses %+v", s.Losses)
	}
	e.Apply(record.Event{At: e.Now(), Kind: record.Answer, Cause: record.Moved, By: "Joon"})
	for h := range 24 {
		w.At, w.Gross = w.At.Add(time.Hour), unit.Grams(10_030+h*5%17)
		e.Apply(w)
	}
	if s, _ = e.Situation("", e.Now()); math.Abs(s.Outlook.Gas.Mean-3_700) > 300 || len(s.Losses) > 0 {
		t.Errorf("after “the scale was moved”: %.0f g of gas, losses %+v", s.Outlook.Gas.Mean, s.Losses)
	}
}

func (e *Engine) leaksOf() *leaks { return &e.find("").leaks }
