package household

import (
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// TestAside: what stands on the platform for a short while is told to nobody, what stays is told once.
func TestAside(t *testing.T) {
	for _, c := range []struct {
		name  string
		hours int
		told  int
	}{{"an hour", 1, 0}, {"two days", 48, 1}} {
		t.Run(c.name, func(t *testing.T) {
			e := New(options())
			ws := readings(start, 20, 5_900, 55)
			feedAll(e, ws)
			last := ws[len(ws)-1]
			var said []notice.Notice
			for h := 1; h <= 72; h++ {
				w := last
				w.At = last.At.Add(time.Duration(h) * time.Hour)
				w.Gross += unit.Grams(h % 5)
				if h <= c.hours {
					w.Gross = unit.Grams(h % 4) // off the platform
				}
				said = append(said, e.Apply(w)...)
			}
			odd := ofKind(said, notice.OddReading)
			if len(odd) != c.told {
				t.Errorf("told %d times, want %d", len(odd), c.told)
			}
			for _, n := range odd {
				if wait := n.At.Sub(last.At); wait < patience[forecast.Lifted] || wait > patience[forecast.Lifted]+2*time.Hour {
					t.Errorf("told after %s", wait)
				}
			}
		})
	}
}

// TestBookingForgotten: a booking that was followed by no fill that anybody saw is forgotten. A fill months later says nothing about how long the supplier
// takes: people were told that every day counts, over a full cylinder.
func TestBookingForgotten(t *testing.T) {
	e := New(options())
	ws := readings(start, 100, 5_900, 30)
	booked := start.AddDate(0, 0, 10)
	for _, w := range ws {
		if w.At.Equal(booked) {
			e.Apply(record.Event{Kind: record.Booked, At: booked, Cylinder: "main", Day: booked.AddDate(0, 0, 3)})
		}
		e.Apply(w)
	}
	c := e.cylinders[0]
	if b := c.errand.booking; b != (booking{}) {
		t.Errorf("the booking of %v still stands after 87 days", b.day)
	}
	before := e.supply.lead.Quantile(0.99)
	e.Apply(record.Event{Kind: record.Filled, At: ws[len(ws)-1].At.Add(time.Hour), Cylinder: "main"})
	if after := e.supply.lead.Quantile(0.99); after > before {
		t.Errorf("a refill takes up to %d days after the fill, %d before", after, before)
	}
}
