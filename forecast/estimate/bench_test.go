package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tarebell/forecast/unit"
)

var monday = time.Date(2027, 1, 4, 6, 0, 0, 0, time.UTC)

// feed sends n readings a step apart of a cylinder that loses perDay grams a day, and calls daily once a day.
func feed(f *Filter, n int, step time.Duration, net, perDay float64, daily func(time.Time)) {
	r := rand.New(rand.NewPCG(5, 5))
	f.Filled(monday, unit.Grams(net), 0)
	day := 0
	for i := range n {
		at := monday.Add(time.Duration(i) * step)
		gone := at.Sub(monday).Hours() / 24 * perDay
		f.Observe(Observation{At: at, Gross: unit.Grams(math.Round((15000+net-gone+20*r.NormFloat64())/5) * 5)})
		if d := int(at.Sub(monday).Hours() / 24); d > day && daily != nil {
			day = d
			daily(at)
		}
	}
}

func BenchmarkObserve(b *testing.B) {
	f := New(Options{House: 15000, NetFill: 22680, Heel: 300})
	feed(f, 20000, 10*time.Minute, 22680, 9, nil)
	b.ReportAllocs()
	b.ResetTimer()
	at := monday.Add(20000 * 10 * time.Minute)
	for i := range b.N {
		f.Observe(Observation{At: at.Add(time.Duration(i) * 10 * time.Minute), Gross: unit.Grams(36000 - float64(i)*0.06 + float64(i*7%41) - 20)})
	}
}

func BenchmarkObserveHourly(b *testing.B) {
	f := New(Options{House: 15000, NetFill: 22680, Heel: 300})
	feed(f, 4000, time.Hour, 22680, 9, nil)
	b.ReportAllocs()
	b.ResetTimer()
	at := monday.Add(4000 * time.Hour)
	for i := range b.N {
		f.Observe(Observation{At: at.Add(time.Duration(i) * time.Hour), Gross: unit.Grams(36000 - float64(i)*0.37 + float64(i*7%41) - 20)})
	}
}

func BenchmarkForecast(b *testing.B) {
	f := New(Options{House: 15000, NetFill: 22680, Heel: 300})
	feed(f, 5000, time.Hour, 22680, 9, nil)
	now := monday.Add(5000 * time.Hour)
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N {
		f.Forecast(now, 300, 6500)
	}
}

// sevenYears is a reading every ten minutes and a forecast a day.
func sevenYears(n int) {
	f := New(Options{House: 15000, NetFill: 22680, Heel: 300})
	feed(f, n, 10*time.Minute, 22680, 8.7, func(at time.Time) {
		f.Forecast(at, 300, 6500)
		f.State(at)
	})
}

func BenchmarkSevenYears(b *testing.B) {
	for range b.N {
		sevenYears(368208)
	}
}

func BenchmarkHalfOfSevenYears(b *testing.B) {
	for range b.N {
		sevenYears(368208 / 2)
	}
}
