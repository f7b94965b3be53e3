package forecast

import (
	"math/rand/v2"
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// patient is a scale that is polled once an hour, and as soon as the cylinder asks for it.
type patient struct {
	c     *Cylinder
	r     *rand.Rand
	at    time.Time
	polls int // beyond the hourly ones, since the last reset
}

func newPatient() *patient {
	return &patient{
		c: New(Options{Tare: 30000, Fittings: 1000, NetFill: 22680, Seed: 1}), r: rand.New(rand.NewPCG(5, 6)),
		at: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC),
	}
}

// until polls until to a cylinder that holds gas(t) grams, or until something is found.
func (p *patient) until(to time.Time, gas func(time.Time) float64) []Finding {
	next := p.at.Truncate(time.Hour)
	for p.at.Before(to) {
		wait := next.Add(time.Hour).Sub(p.at)
		switch p.c.Pace() {
		case AtOnce:
			wait = min(wait, 12*time.Second)
		case Soon:
			wait = min(wait, 5*time.Minute)
		}
		p.at = p.at.Add(wait)
		if p.at.Before(next.Add(time.Hour)) {
			p.polls++
		} else {
			next = next.Add(time.Hour)
		}
		w := record.Event{Kind: record.Weighed, At: p.at, Gross: unit.Grams(31000 + gas(p.at) + 12*p.r.NormFloat64()), Temp: 20, HasTemp: true}
		if f := p.c.Apply(w); len(f) > 0 {
			return f
		}
	}
	return nil
}

// TestPace: an hourly scale is looked at more often after a fall, so that gas that leaves is told with the second look,
// not an hour later; a fall that is over costs some polls and nothing else.
func TestPace(t *testing.T) {
	calm := func(time.Time) float64 { return 20000 }
	for _, c := range []struct {
		name string
		hour int           // of the day at which it begins
		rate float64       // g/h
		long time.Duration // how long it lasts
		told time.Duration // at most; 0: never
	}{
		{"open valve at night", 1, 190, 6 * time.Hour, 90 * time.Minute},
		{"burst hose by day", 11, 900, 3 * time.Hour, 75 * time.Minute},
		{"guests", 19, 50, time.Hour, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPatient()
			begin := p.at.AddDate(0, 0, 21).Add(time.Duration(c.hour) * time.Hour)
			if f := p.until(begin, calm); f != nil {
				t.Fatalf("before anything: %+v", f)
			}
			p.polls = 0
			f := p.until(begin.Add(8*time.Hour), func(at time.Time) float64 {
				return 20000 - c.rate*min(at.Sub(begin), c.long).Hours()
			})
			switch {
			case c.told == 0 && f != nil:
				t.Errorf("found %+v", f)
			case c.told == 0 && p.polls > 40:
				t.Errorf("%d polls more, want at most 40", p.polls)
			case c.told > 0 && (len(f) == 0 || f[0].Kind != AbruptLoss || f[0].At.Sub(begin) > c.told):
				t.Errorf("found %+v, want a loss within %v of %v", f, c.told, begin)
			}
			if t.Logf("%d polls more", p.polls); f != nil {
				t.Logf("told after %v", f[0].At.Sub(begin))
			}
		})
	}
}

// TestPaceOfABrokenScale: one that says something else each time is not polled without end.
func TestPaceOfABrokenScale(t *testing.T) {
	p := newPatient()
	if f := p.until(p.at.AddDate(0, 0, 10), func(time.Time) float64 { return 20000 }); f != nil {
		t.Fatalf("before anything: %+v", f)
	}
	p.polls = 0
	end := p.at.Add(24 * time.Hour)
	for p.at.Before(end) {
		p.until(end, func(time.Time) float64 { return 4000 + 16000*p.r.Float64() })
	}
	if p.polls > 24*20 {
		t.Errorf("%d polls more in a day", p.polls)
	}
	t.Logf("%d polls more", p.polls)
}
