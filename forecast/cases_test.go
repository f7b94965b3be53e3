package forecast

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// Cases that a household met in the demo, each as a test. They must hold without breaking the worlds.

// feedHouse weighs every half hour a household that draws use g/day between 8 and 22 h, with noise sd g, and lets extra
// (g/h) leave from since on for so long. It returns all findings.
func feedHouse(c *Cylinder, from time.Time, days int, gas, use, sd, extra float64, since time.Time, long time.Duration) (found []Finding, left float64) {
	r := rand.New(rand.NewPCG(3, 9))
	for i := range 48 * days {
		at := from.Add(time.Duration(i) * 30 * time.Minute)
		if h := at.Hour(); h >= 8 && h < 22 && r.Float64() < use/6.0/28 {
			gas -= 6
		}
		if !at.Before(since) && at.Before(since.Add(long)) {
			gas -= extra / 2
		}
		found = append(found, c.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(9310 + gas + sd*r.NormFloat64()), Temp: 20, HasTemp: true})...)
	}
	return found, gas
}

func demoCylinder() *Cylinder {
	return New(Options{Tare: 8460, Fittings: 850, NetFill: 6000, Serving: 6, Seed: 4})
}

// TestOpenValveAtHalfHourlyPolls: 165 g/h for nine hours of a night, read every half hour by a quiet scale, is a ramp of
// equal falls: gas that leaves, not a row of re-zeroed platforms. It must be told within three hours, or once what
// guests may take in an evening is gone: 250 g, in a household that draws 60 g a day.
func TestOpenValveAtHalfHourlyPolls(t *testing.T) {
	for _, sd := range []float64{4, 9, 20} {
		for _, rate := range []float64{60, 165, 400} {
			c := demoCylinder()
			from := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
			open := time.Date(2027, 3, 31, 23, 52, 0, 0, time.UTC)
			found, _ := feedHouse(c, from, 33, 5930, 60, sd, rate, open, 9*time.Hour)
			told := time.Duration(-1)
			for _, f := range found {
				if f.Kind == AbruptLoss && told < 0 {
					told = f.At.Sub(open)
				}
				if f.Kind == ZeroStep && f.At.After(open) {
					t.Errorf("scatter %g g, %g g/h: taken for a step of %.0f g at %s", sd, rate, float64(f.Mass), f.At)
				}
			}
			most := max(3*time.Hour, time.Duration(250/rate*float64(time.Hour)))
			if told < 0 || told > most {
				t.Errorf("scatter %g g, %g g/h: told after %s, want within %s", sd, rate, told, most)
			}
		}
	}
}

// TestGoneWithinHours: 1.3 kg that goes within hours of an evening, read once an hour, is told as gas that escaped, whether or not it began right after a reading;
// also if a single reading shows the fall.
func TestGoneWithinHours(t *testing.T) {
	for _, rate := range []float64{300, 525, 1000, 2600} {
		for minute := 5; minute < 60; minute += 10 {
			c := demoCylinder()
			at, gas := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC), 2600.
			from := time.Date(2027, 3, 22, 19, minute, 0, 0, time.UTC)
			r := rand.New(rand.NewPCG(uint64(rate), uint64(minute)))
			var found []Finding
			for ; at.Before(from.Add(12 * time.Hour)); at = at.Add(time.Hour) {
				if h := at.Hour(); h >= 8 && h < 22 && r.Float64() < 0.7 {
					gas -= 6
				}
				left := max(0, gas-rate*max(0, at.Sub(from).Hours()))
				found = append(found, c.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(9310 + left + 9*r.NormFloat64())})...)
			}
			told := slices.IndexFunc(found, func(f Finding) bool { return f.Kind == AbruptLoss })
			if told < 0 {
				t.Errorf("%g g/h from minute %d: found %+v", rate, minute, found)
				continue
			}
			for _, f := range found {
				if f.Kind == LossStopped && f.Mass > unit.Grams(1.03*gas+30) {
					t.Errorf("%g g/h from minute %d: %.0f g of %.0f are told to be gone in the end", rate, minute, float64(f.Mass), gas)
				}
			}
			f := found[told]
			late, most := f.At.Sub(from), max(2*time.Hour+20*time.Minute, time.Duration(gas/rate*float64(time.Hour))+4*time.Hour)
			if late > most || f.Mass < unit.Grams(min(0.6*gas, 0.6*rate*late.Hours())) || f.Mass > unit.Grams(1.1*gas) {
				t.Errorf("%g g/h from minute %d: told after %s that %.0f g of %.0f are gone", rate, minute, late, float64(f.Mass), gas)
			}
		}
	}
}

// TestThatWasUs: after a party that alarmed and the answer "that was us", the run-out is that of a household that had a
// party, not of one whose gas is escaping.
func TestThatWasUs(t *testing.T) {
	c := demoCylinder()
	from := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
	party := time.Date(2027, 4, 3, 19, 30, 0, 0, time.UTC)
	_, gas := feedHouse(c, from, 33, 5930, 60, 5, 0, from, 0)
	before := c.Outlook(party).RunOut.Quantile(0.5)
	r := rand.New(rand.NewPCG(5, 5))
	answered := false
	for i := range 7 {
		at := party.Add(time.Duration(i) * 30 * time.Minute)
		gas -= 45
		for _, f := range c.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(9310 + gas + 5*r.NormFloat64()), Temp: 20, HasTemp: true}) {
			if f.Kind == AbruptLoss {
				answered = true
				c.Apply(record.Event{At: at.Add(5 * time.Minute), Kind: record.Answer, Cause: record.Used})
			}
		}
	}
	for i := range 20 {
		at := party.Add(4 * time.Hour).Add(time.Duration(i) * 30 * time.Minute)
		c.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(9310 + gas + 5*r.NormFloat64()), Temp: 20, HasTemp: true})
	}
	if !answered {
		t.Log("the party alarmed nobody, which is better still")
	}
	morning := party.Add(14 * time.Hour)
	o := c.Outlook(morning)
	if o.Loss.Mean != 0 {
		t.Errorf("still %g g/h believed to leave after the answer", o.Loss.Mean)
	}
	want := before - unit.Between(party, morning) - unit.Days(315.0/60)
	if got := o.RunOut.Quantile(0.5); got < want*0.7 || got > want*1.3 {
		t.Errorf("the morning after it runs out in %.1f days, want about %.1f", float64(got), float64(want))
	}
}

// TestPartyThatIsOver: twenty servings of an evening, in a household that had no party yet, need no alarm; least of all
// one after everybody has gone to bed and nothing leaves any more.
func TestPartyThatIsOver(t *testing.T) {
	alarms := 0
	for seed := range uint64(12) {
		c := demoCylinder()
		from := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
		party := time.Date(2027, 4, 24, 19, 0, 0, 0, time.UTC)
		_, gas := feedHouse(c, from, 54, 5930, 60, 7, 0, from, 0)
		r := rand.New(rand.NewPCG(seed, 5))
		for at := from.AddDate(0, 0, 54); at.Before(party.AddDate(0, 0, 1)); at = at.Add(30 * time.Minute) {
			if !at.Before(party) && at.Before(party.Add(5*time.Hour)) {
				for range 4 {
					if r.Float64() < 0.5 {
						gas -= 7
					}
				}
			}
			for _, f := range c.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(9310 + gas + 7*r.NormFloat64()), Temp: 20, HasTemp: true}) {
				if f.Kind == AbruptLoss {
					alarms++
					if at.After(party.Add(5*time.Hour + 40*time.Minute)) {
						t.Errorf("seed %d: alarm at %s, when nothing has left since midnight", seed, at.Format("15:04"))
					}
				}
			}
		}
	}
	if alarms > 2 {
		t.Errorf("%d of 12 parties alarmed, want two at most", alarms)
	}
}

// TestLoggedParty: an evening of a hundred and fifty servings, which nobody would take for ordinary, alarms unless it is logged; and
// what is logged does not hide an open valve.
func TestLoggedParty(t *testing.T) {
	for _, c := range []struct {
		name    string
		made    float64 // servings made every half hour
		logs    float64 // and logged
		leak    float64 // g/h
		alarmed bool
	}{
		{"not logged", 15, 0, 0, true},
		{"logged", 10, 10, 0, false},
		{"open valve beside a logged party", 10, 10, 600, true},
		{"open valve beside a slip of the finger", 10, 1000, 800, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			cyl := demoCylinder()
			from := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
			party := time.Date(2027, 4, 24, 19, 0, 0, 0, time.UTC)
			_, gas := feedHouse(cyl, from, 54, 5930, 60, 7, 0, from, 0)
			r := rand.New(rand.NewPCG(3, 5))
			alarmed := false
			for at := from.AddDate(0, 0, 54); at.Before(party.AddDate(0, 0, 1)); at = at.Add(30 * time.Minute) {
				if !at.Before(party) && at.Before(party.Add(5*time.Hour)) {
					gas -= c.made*6 + c.leak/2
					if c.logs > 0 {
						cyl.Apply(record.Event{At: at, Kind: record.Made, Count: c.logs})
					}
				}
				for _, f := range cyl.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(9310 + gas + 7*r.NormFloat64()), Temp: 20, HasTemp: true}) {
					alarmed = alarmed || f.Kind == AbruptLoss
				}
			}
			if alarmed != c.alarmed {
				t.Errorf("alarmed: %v, want %v", alarmed, c.alarmed)
			}
		})
	}
}

// TestUpLate: people who draw until one in the morning are hardly ever taken for a leak, said or not said in their quiet hours.
func TestUpLate(t *testing.T) {
	var alarms [2]int
	for i, quiet := range []Quiet{{}, {From: time.Hour, To: 9 * time.Hour}} {
		for seed := range uint64(6) {
			c := New(Options{Tare: 8460, Fittings: 850, NetFill: 10000, Serving: 7, Seed: 4, Quiet: quiet})
			r := rand.New(rand.NewPCG(seed, 11))
			gas, at := 9900.0, time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)
			for range 90 * 144 {
				at = at.Add(10 * time.Minute)
				late := at.Add(-2*time.Hour).Weekday() == time.Saturday && (at.Hour() >= 22 || at.Hour() < 1)
				if late && r.Float64() < 0.5 || at.Hour() >= 18 && r.Float64() < 0.12 {
					gas -= 7
				}
				for _, f := range c.Apply(record.Event{Kind: record.Weighed, At: at, Gross: unit.Grams(9310 + gas + 12*r.NormFloat64())}) {
					if f.Kind == AbruptLoss || f.Kind == SlowLoss {
						alarms[i]++
					}
				}
			}
		}
	}
	t.Logf("alarms in 18 months: %d; with quiet hours %d", alarms[0], alarms[1])
	if alarms[1] > alarms[0] || alarms[0] > 2 {
		t.Errorf("%d alarms with the quiet hours said, %d without; want no more than 2", alarms[1], alarms[0])
	}
}

// TestFastBesideSlow: whoever has been told of a slow leak is told at once when a valve opens as well.
func TestFastBesideSlow(t *testing.T) {
	s := newSteady()
	c := New(s.opt)
	told := func(leak float64, readings int, kind FindingKind) bool {
		for range readings {
			s.gas -= leak / 6
			for _, f := range c.Apply(s.next()) {
				if f.Kind == kind {
					return true
				}
			}
		}
		return false
	}
	if told(0, 20*144, SlowLoss) || !told(5, 20*144, SlowLoss) {
		t.Fatal("the slow leak is not told, or told too soon")
	}
	if !told(300, 9, AbruptLoss) {
		t.Error("an open valve beside it is not told within an hour and a half")
	}
}

// TestSlowLossThatEnds: what is told at the end of a slow loss is what went until it was mended, not until the nights had
// shown that it was.
func TestSlowLossThatEnds(t *testing.T) {
	c := demoCylinder()
	from := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
	const rate, days = 5.0, 6
	found, _ := feedHouse(c, from, 50, 5930, 60, 9, rate, from.AddDate(0, 0, 30), days*24*time.Hour)
	for _, f := range found {
		if f.Kind != LossStopped {
			continue
		}
		if lost := float64(f.Mass) / (rate * days * 24); lost < 0.7 || lost > 1.4 {
			t.Errorf("told %.0f ± %.0f g lost, want about %.0f", float64(f.Mass), float64(f.MassSD), rate*days*24)
		}
		return
	}
	t.Errorf("no end among %+v", found)
}
