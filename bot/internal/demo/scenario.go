package demo

import (
	"fmt"
	"time"

	"tarebell/bot/internal/chat"
	"tarebell/forecast/unit"
	"tarebell/sources/simulated"
)

// The people, invented like everything here.
var (
	ines  = chat.Member{ID: "101", Name: "Ines"}
	joon  = chat.Member{ID: "102", Name: "Joon"}
	marta = chat.Member{ID: "103", Name: "Marta"}
	ade   = chat.Member{ID: "104", Name: "Ade"}
)

// household is who lives here and what is going to happen to them.
func (d *demo) household(start time.Time) simulated.Options {
	cyl := d.cfg.Cylinders[0]
	day := func(n, hour, minute int) time.Time {
		return time.Date(start.Year(), start.Month(), start.Day()+n, hour, minute, 0, 0, start.Location())
	}
	return simulated.Options{
		Seed: d.opt.Seed, Start: start,
		Tare: cyl.Tare + 30, Fittings: cyl.Fittings, NetFill: cyl.NetFill - 70, // neither is quite what is stamped
		Heel: 82, People: 5, Use: 62, Serving: d.cfg.Serving.CO2, ServingLitres: d.cfg.Serving.Litres,
		Script: []simulated.Incident{
			{At: day(19, 9, 10), What: simulated.ObjectOn, Mass: 1240, For: 26 * time.Hour},
			{At: day(30, 23, 52), What: simulated.ValveLeftOpen, Rate: 165, For: 9 * time.Hour},
			{At: day(41, 10, 5), What: simulated.Lifted, For: 100 * time.Minute},
			{At: day(47, 3, 20), What: simulated.ScaleSilent, For: 11 * time.Hour},
			{At: day(54, 19, 0), What: simulated.Party, Servings: 20, For: 5 * time.Hour},
			{At: day(62, 15, 30), What: simulated.LeakBegins, Rate: 4.2},
		},
	}
}

// opening says what is about to be seen.
func (d *demo) opening() {
	fmt.Fprintf(d.opt.Out, `An invented household: the kitchen of a rowing club, its people, its figures and its mishaps are made up.
Its scale is simulated and served over HTTP on this machine; everything that reads, judges and speaks is the real program.
%d weeks from %s, one reading every %d minutes. The ledger and the charts are kept in %s.

`, d.opt.Weeks, d.clock.Now().Format("2 January 2006"), int(d.every.Minutes()), d.room.dir)
}

// habits are what people do of their own accord.
func (r *room) habits(start time.Time) {
	day := func(n, hour, minute int) time.Time {
		return time.Date(start.Year(), start.Month(), start.Day()+n, hour, minute, 0, 0, start.Location())
	}
	gross := func() unit.Grams { got, _ := r.demo.house.GrossAt(r.demo.clock.Now()); return got.Gross }
	r.at(day(0, 9, 20), func() { r.says(ines, "the new cylinder is on the scale, who wants fizz?") })
	r.at(day(0, 12, 15), func() { r.calls(marta, "gas") })
	r.at(day(2, 19, 40), func() { r.says(joon, fmt.Sprintf("%.1f kg", gross().Kilograms())) })
	r.at(day(9, 20, 5), func() {
		a := r.says(ade, fmt.Sprintf("%.1f", gross().Pounds()))
		if a.Message != nil && len(a.Message.Buttons) > 0 {
			r.at(r.demo.clock.Now().Add(2*time.Minute), func() { r.presses(ade, a.Message.Buttons[0].ID) })
		}
	})
	r.at(day(16, 12, 30), func() { r.calls(marta, "plan") })
	r.at(day(37, 18, 45), func() { r.calls(joon, "booked", "day", "soonish") })
	r.at(day(56, 12, 10), func() { r.calls(ines, "chart") })
	r.at(day(110, 20, 30), func() { r.calls(ines, "cost") })
}
