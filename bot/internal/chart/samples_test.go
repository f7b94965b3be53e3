package chart

import (
	"math"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
)

var vienna = func() *time.Location {
	l, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		panic(err)
	}
	return l
}()

// sampleNow is the present of the invented households below.
var sampleNow = time.Date(2026, 10, 25, 18, 0, 0, 0, vienna)

// flat is an invented household some weeks before its refill: filled 170 days ago, 45 g a day, with an earlier
// cylinder before that if earlier is set.
func flat(daysSinceFill int, perDay, fill float64, earlier int) Data {
	d := Data{Title: "Gas in the cylinder", Now: sampleNow, Voice: notice.Voice{Zone: vienna}}
	for i := -earlier; i < 0; i++ {
		d.History = append(d.History, Point{d.Now.AddDate(0, 0, i-daysSinceFill), math.Max(300, 600-perDay*float64(i))})
	}
	if earlier > 0 {
		d.Filled = d.Now.AddDate(0, 0, -daysSinceFill)
	}
	net := fill
	for i := 0; i <= daysSinceFill; i++ {
		d.History = append(d.History, Point{d.Now.AddDate(0, 0, i-daysSinceFill), net})
		if i < daysSinceFill {
			net -= perDay * (1 + 0.5*math.Sin(float64(i)*2*math.Pi/7) + 0.25*math.Sin(float64(i)/19))
		}
	}
	left := net / perDay
	days := Quantiles{left * 0.78, left * 0.89, left, left * 1.12, left * 1.27}
	d.Fan = Fan(d.Now, Quantiles{net - 90, net - 45, net, net + 45, net + 90}, days, farthest)
	d.RunOut = Spread{in(days[p10]), in(days[p50]), in(days[p90])}
	dry := (net - 2100) / net
	if dry > 0 {
		d.LiquidDry = in(days[p50] * dry)
	}
	d.BookBy = in(days[p10]*0.9 - 5)
	say := func(t time.Time) string { return d.Voice.Around(t, d.Now) }
	d.Subtitle = "Enough until about " + say(d.RunOut.P50) + ", between " + say(d.RunOut.P10) + " and " + say(d.RunOut.P90)
	return d
}

func in(days float64) time.Time { return sampleNow.Add(time.Duration(days * 24 * float64(time.Hour))) }

func sampleWeeks(n int, lost ...float64) UseData {
	d := UseData{Title: "Gas used per week", Subtitle: "About 300 g in an ordinary week", Now: sampleNow, Voice: notice.Voice{Zone: vienna}}
	monday := time.Date(2026, 10, 19, 0, 0, 0, 0, vienna)
	for i := range n {
		w := Week{Start: monday.AddDate(0, 0, 7*(i-n+1)), Used: 300 + 70*math.Sin(float64(i)*1.7)}
		if i < len(lost) {
			w.Lost = lost[i]
		}
		if i == n-1 {
			w.Used *= 0.6
		}
		d.Weeks = append(d.Weeks, w)
	}
	return d
}

// samples are the pictures to look at.
func samples() map[string]func() ([]byte, error) {
	cyl := func(d Data) func() ([]byte, error) { return func() ([]byte, error) { return Cylinder(d) } }
	use := func(d UseData) func() ([]byte, error) { return func() ([]byte, error) { return Use(d) } }

	booked := flat(190, 45, 10000, 0)
	booked.Booked, booked.BookBy = in(9), time.Time{}
	us := flat(120, 45, 9070, 30)
	us.Voice.System, us.Title = unit.US, "Gas in “basement 🫧 rack”"
	young := flat(6, 30, 9800, 0)
	young.Subtitle = "Too early to say how long it lasts"
	young.Fan, young.RunOut, young.LiquidDry, young.BookBy = nil, Spread{}, time.Time{}, time.Time{}
	first := young
	first.History = first.History[len(first.History)-1:]
	first.Booked = in(1.5)
	first.Subtitle = "Enough until about mid March, if your guess of 1.5 litres a day is right; how you really drink is known after some weights"
	void := young
	void.Voice.System, void.Subtitle = unit.US, "Nothing usable is left"
	void.History = []Point{{in(-3), 30}, {in(-1), 0.4}}
	empty := flat(216, 45, 10000, 0)
	years := flat(60, 3, 22680, 0)
	years.BookBy = time.Time{}
	usUse := sampleWeeks(7)
	usUse.Voice.System = unit.US
	return map[string]func() ([]byte, error){
		"cylinder":        cyl(flat(150, 45, 10000, 0)),
		"cylinder-soon":   cyl(flat(200, 45, 10000, 0)),
		"cylinder-booked": cyl(booked),
		"cylinder-us":     cyl(us),
		"cylinder-young":  cyl(young),
		"cylinder-empty":  cyl(empty),
		"cylinder-first":  cyl(first),
		"cylinder-void":   cyl(void),
		"cylinder-years":  cyl(years),
		"use":             use(sampleWeeks(14)),
		"use-loss":        use(sampleWeeks(16, 0, 0, 0, 0, 0, 0, 0, 0, 580, 120)),
		"use-two":         use(sampleWeeks(2)),
		"use-us":          use(usUse),
	}
}
