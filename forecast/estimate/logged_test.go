package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"tarebell/forecast/unit"
)

// logger is how a household logs: day, servings made on it, share of the gas gone; the servings it logs that day.
type logger func(day int, made, gone float64) float64

// part is how many of n servings are logged, each with probability share.
func part(r *rand.Rand, n, share float64) (logged float64) {
	for range int(math.Round(n)) {
		if r.Float64() < share {
			logged++
		}
	}
	return logged
}

// loggers are households that log, by how.
var loggers = map[string]func(r *rand.Rand) logger{
	"30 %":         func(r *rand.Rand) logger { return func(_ int, n, _ float64) float64 { return part(r, n, 0.3) } },
	"90 %":         func(r *rand.Rand) logger { return func(_ int, n, _ float64) float64 { return part(r, n, 0.9) } },
	"now and then": func(r *rand.Rand) logger { return func(_ int, n, _ float64) float64 { return part(r, n, 0.05) } },
	"stops at a third": func(r *rand.Rand) logger {
		return func(_ int, n, gone float64) float64 {
			if gone > 0.33 {
				return 0
			}
			return part(r, n, 0.9)
		}
	},
	"share falls 90 to 20 %": func(r *rand.Rand) logger {
		return func(_ int, n, gone float64) float64 { return part(r, n, 0.9-0.7*gone) }
	},
	"share leaps": func(r *rand.Rand) logger {
		share := 0.6
		return func(_ int, n, _ float64) float64 {
			if r.Float64() < 1/30.0 {
				share = 0.15 + 0.8*r.Float64()
			}
			return part(r, n, share)
		}
	},
	"once a week": func(r *rand.Rand) logger {
		sum := 0.0
		return func(day int, n, _ float64) float64 {
			sum += part(r, n, 0.7)
			if day%7 != 6 {
				return 0
			}
			all := sum
			sum = 0
			return all
		}
	},
}

// crps is twice the mean quantile loss of a forecast, as a share of the cylinder's life.
func (t *trial) crps() (sum float64) {
	for i, p := range quantiles {
		d := math.Min(t.y, 1500) - t.q[i]
		sum += math.Max(p*d, (p-1)*d)
	}
	return 2 * sum / float64(len(quantiles)) / t.life
}

// inside is 1 if the run-out fell between p10 and p90.
func (t *trial) inside() int {
	if t.y >= t.q[1] && t.y <= t.q[5] {
		return 1
	}
	return 0
}

// logged is what logging does to the forecasts of n households of a kind.
type logged struct {
	with, without float64 // mean crps
	in, inBefore  int     // run-outs inside p10-p90 with and without, of one forecast a cylinder
	n             int
}

func (l logged) gain() float64 { return 1 - l.with/l.without }

// covers is the share of run-outs inside p10-p90.
func (l logged) covers() float64 { return float64(l.in) / float64(l.n) }

func (l logged) String() string {
	n := float64(l.n)
	return fmt.Sprintf("%+5.1f %% (%.4f to %.4f); inside %.2f, was %.2f", 100*l.gain(), l.without/n, l.with/n, l.covers(), float64(l.inBefore)/n)
}

// survey compares n households of a kind that log with themselves not logging.
func survey(kind string, how weighing, style string, n int) (l logged) {
	var mu sync.Mutex
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := w; i < n; i += 2 {
				seed := uint64(5000 + i)
				a := tryCylinder(seed, kind, how, nil)
				b := tryCylinder(seed, kind, how, loggers[style](rand.New(rand.NewPCG(seed, 5))))
				mu.Lock()
				for j := range a {
					l.without += a[j].crps() / float64(len(a))
					l.with += b[j].crps() / float64(len(a))
				}
				if len(b) > 0 {
					l.n++
					l.in += b[i/2%len(b)].inside()
					l.inBefore += a[i/2%len(a)].inside()
				}
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	return l
}

// Logging must be worth something where weighings are rare, and never cost anything: not to who logs little, stops, or changes the
// share. The seeds are fixed; the limits stand well off what 100 households show.
func TestLoggingHelps(t *testing.T) {
	if testing.Short() {
		t.Skip("runs a hundred cylinders twice")
	}
	for _, c := range []struct {
		style string
		how   weighing
		least float64 // gain
	}{
		{"90 %", typed, 0.1}, {"30 %", typed, 0.03}, {"stops at a third", typed, 0.05}, {"share leaps", typed, 0.05},
		{"share falls 90 to 20 %", typed, 0}, {"now and then", typed, -0.03}, {"once a week", typed, 0},
	} {
		l := survey("worlds", c.how, c.style, 16)
		t.Logf("%s: %v", c.style, l)
		if l.gain() < c.least {
			t.Errorf("%s logged: the quantile loss falls by %.1f %%, want at least %.0f %%", c.style, 100*l.gain(), 100*c.least)
		}
		if sd := math.Sqrt(0.8 * 0.2 / float64(l.n)); l.covers() < 0.8-0.03-3*sd {
			t.Errorf("%s logged: p10-p90 holds %.2f of %d run-outs", c.style, l.covers(), l.n)
		}
	}
}

// Where a scale weighs all the time, logged servings change nothing: it knows better.
func TestScaleKnowsBetter(t *testing.T) {
	a := tryCylinder(3, "worlds", scale, nil)
	b := tryCylinder(3, "worlds", scale, loggers["90 %"](rand.New(rand.NewPCG(3, 5))))
	if diff := cmp.Diff(a, b, cmp.AllowUnexported(trial{})); diff != "" {
		t.Errorf("without and with logged servings: %s", diff)
	}
}

// Between two weights, who logs twice as much as usual is believed to use more; who logs nothing more is believed to use what they did.
func TestLogsTellBetweenWeights(t *testing.T) {
	tell := func(perDay float64) float64 {
		f := New(Options{House: 15000, NetFill: 9070, Heel: 120, Serving: 8})
		f.Filled(monday, 9070, 0)
		for d := range 70 {
			at := monday.AddDate(0, 0, d).Add(14 * time.Hour)
			f.Made(at, 3)
			if d%7 == 6 {
				f.Observe(Observation{At: at.Add(time.Hour), Gross: unit.Grams(15000 + 8940 - 40*float64(d)), Manual: true})
			}
		}
		for d := range 6 {
			if perDay > 0 {
				f.Made(monday.AddDate(0, 0, 70+d).Add(14*time.Hour), perDay)
			}
		}
		return f.State(monday.AddDate(0, 0, 76)).Use.Mean
	}
	same, twice, none := tell(3), tell(6), tell(0)
	between(t, "use, g/day, when they log as ever", same, 36, 44)
	between(t, "use when they log twice as much, over as ever", twice/same, 1.12, 2)
	between(t, "use when they stopped logging, over as ever", none/same, 0.97, 1.03)
}

// Absurd logs leave a finite forecast.
func TestAbsurdLogs(t *testing.T) {
	for _, n := range []float64{math.NaN(), math.Inf(1), -3, 0, 1e300, 1e-300, 7} {
		f := New(Options{House: 15000, NetFill: 9070, Heel: 120})
		f.Made(monday, n)
		f.Filled(monday, 9070, 0)
		for d := range 40 {
			f.Made(monday.AddDate(0, 0, d), n)
		}
		s := f.State(monday.AddDate(0, 0, 41))
		if bad := math.Abs(s.Gas.Mean) + s.Gas.SD + s.Use.Mean + s.Use.SD; !(bad < 1e7) {
			t.Errorf("%g servings a day: %+v", n, s)
		}
	}
}
