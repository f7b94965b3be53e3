package demand

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"tarebell/forecast/unit/reftest"
)

// hour is what a meter counted in one hour.
type hour struct {
	end  time.Time
	used float64 // litres
}

// metered are the hours of four homes whose water was metered: DAIAD project trial A, CC BY-SA 4.0, water_meter_house*.csv in
// ../shared/data beside the repository. It skips the test where they are absent.
func metered(t *testing.T) (homes [][]hour) {
	t.Helper()
	dir, _ := filepath.Abs("../..")
	files, _ := filepath.Glob(filepath.Join(dir, "..", "shared", "data", "water_meter_house*.csv"))
	if len(files) == 0 {
		t.Skip("the water meters are not here")
	}
	for _, file := range files {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		homes = append(homes, hours(t, rows[1:]))
	}
	return homes
}

// hours keeps what was counted between readings about an hour apart.
func hours(t *testing.T, rows [][]string) (out []hour) {
	var last time.Time
	var before float64
	for _, row := range rows {
		at, err := time.Parse("2006-01-02T15:04:05", row[0])
		if err != nil {
			t.Fatal(err)
		}
		litres, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		if d := at.Sub(last).Hours(); d > 0.5 && d < 1.6 && litres >= before {
			out = append(out, hour{at, litres - before})
		}
		last, before = at, litres
	}
	return out
}

// mean is the mean hour.
func mean(home []hour) float64 {
	sum := 0.0
	for _, h := range home {
		sum += h.used
	}
	return sum / float64(len(home))
}

// draws reports that an hour draws: a third of the mean hour.
func draws(h hour, mean float64) bool { return h.used > mean/3 }

// bouts of a home are the sums of hours in a row that draw.
func boutsOf(home []hour) (masses []float64) {
	m, run := mean(home), 0.0
	for _, h := range home {
		if draws(h, m) {
			run += h.used
		} else if run > 0 {
			masses, run = append(masses, run), 0
		}
	}
	return masses
}

// TestBoutsOfRealHomes compares the law of the mass of a bout with the bouts of homes: their tail, and their mean beside a day's use.
func TestBoutsOfRealHomes(t *testing.T) {
	beyond, n, share := map[float64]float64{}, 0.0, 0.0
	homes := metered(t)
	for _, home := range homes {
		b := boutsOf(home)
		m := stat.Mean(b, nil)
		share += m / (24 * mean(home)) / float64(len(homes))
		for _, x := range b {
			n++
			for _, k := range []float64{3, 6, 12} {
				if x > k*m {
					beyond[k]++
				}
			}
		}
	}
	for _, k := range []float64{3, 6, 12} {
		law := math.Pow(1+k/(tail-1), -tail)
		t.Logf("beyond %2.0f means: %.4f of %.0f bouts, the law says %.4f", k, beyond[k]/n, n, law)
		reftest.Near(t, "ln of the share of large bouts", math.Log(law), math.Log(beyond[k]/n), 0.11)
	}
	reftest.Near(t, "mean bout, of a day's use", boutOfDay, share, 0.2)
}

// TestStayingOfRealHomes compares how a bout lasts against the clock: an hour that draws is followed by another with a power of how often
// that time of the day draws. Half of the times of day of half of the homes should lie on either side.
func TestStayingOfRealHomes(t *testing.T) {
	var powers []float64
	for _, home := range metered(t) {
		var n, now, prev, both [slots]float64
		m := mean(home)
		for i := 1; i < len(home); i++ {
			s := slot(float64(home[i].end.Hour()))
			a, b := draws(home[i-1], m), draws(home[i], m)
			n[s]++
			now[s] += count(b)
			prev[s] += count(a)
			both[s] += count(a && b)
		}
		for s := range n {
			powers = append(powers, math.Log(both[s]/prev[s])/math.Log(now[s]/n[s]))
		}
	}
	slices.Sort(powers)
	t.Logf("%.2f", powers)
	reftest.Near(t, "power of staying an hour", lasting, powers[len(powers)/2], 0.3)
}

func count(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// TestPriorShares: before a home is known, its steps lumps come no oftener than hours of homes draw, and bouts half as often again at most.
func TestPriorShares(t *testing.T) {
	var share []float64
	for _, home := range metered(t) {
		m, n := mean(home), 0.0
		for _, h := range home {
			n += count(draws(h, m))
		}
		share = append(share, n/float64(len(home)))
	}
	t.Logf("%.2f", share)
	if least, most := slices.Min(share), slices.Max(share); starts < least || starts > stat.Mean(share, nil) || priorShare < stat.Mean(share, nil) || priorShare > 1.4*most {
		t.Errorf("lumps in %g of the steps, draws in %g of them; homes draw in %.2f of their hours", starts, priorShare, share)
	}
}

// TestLearns: what a household does again and again becomes likely, what it never does unlikely, and guests stay possible.
func TestLearns(t *testing.T) {
	m := New()
	fresh := at(m, 20).Starts(4)
	for day := range 60 {
		for step := range 48 {
			h := float64(step) / 2
			if h >= 19 && h < 20 && day%2 == 0 {
				m.Seen(h, 0.5, 1, 15)
			} else {
				m.Seen(h, 0.5, 0, 0)
			}
		}
	}
	if got := m.Mean(); got < 20 || got > 32 {
		t.Errorf("mean bout %.1f g, want about 30", got)
	}
	if night, evening := m.Share(3), m.Share(19.5); night > 0.02 || evening < 0.2 {
		t.Errorf("draws in %.3f of the nights' steps and %.2f of the evenings'", night, evening)
	}
	if seen, unseen := at(m, 19.5).Starts(2), at(m, 19.5).Starts(10); seen < 20*unseen {
		t.Errorf("starts at 30 g/h %.2g, at 750 g/h %.2g", seen, unseen)
	}
	if known := at(m, 20).Starts(4) / m.Share(20) * m.average(); known > fresh {
		t.Errorf("45 g/h never seen: %.2g a step, %.2g before anything was", known, fresh)
	}
	left := 1.0
	for x := 0.0; x < 150; x += 22.5 {
		left *= at(m, 19.5).Stays(4, x, 22.5)
	}
	if left < 0.02 {
		t.Errorf("150 g at 45 g/h in an evening has a chance of %.3f once begun; guests should make it more", left)
	}
	if day, night := at(m, 19.5).Stays(4, 45, 22.5), at(m, 3).Stays(4, 45, 22.5); night > day/2 {
		t.Errorf("a bout stays with %.2f in the evening and %.2f at night", day, night)
	}
}

// TestLaws: a law is one, whatever is done to it.
func TestLaws(t *testing.T) {
	m := New()
	m.Learn(12, &Law{3: 1}, 5)
	for _, do := range []func(*Law){func(*Law) {}, func(l *Law) { l.Blur(9) }, func(l *Law) { l.Stretch(4) }, (*Law).Quieten} {
		l := m.Lump(12)
		do(&l)
		sum := 0.0
		for _, p := range l {
			sum += p
		}
		reftest.Near(t, "sum", sum, 1, 1e-9)
	}
	l := m.Lump(12)
	before := l[0]
	l.Stretch(4)
	reftest.Near(t, "nothing in four steps", l[0], math.Pow(before, 4), 1e-9)
}

// TestEvenings: guests who never came in half a year become less likely than before, those who come each week more likely than that.
func TestEvenings(t *testing.T) {
	live := func(weekly bool) *Model {
		m := New()
		for step := range 182 * 48 {
			hour := float64(step%336) / 2
			m.Seen(hour, 0.5, 0, 0)
			if weekly && step%336 == 335 {
				m.Count(200, 45, 1)
			}
		}
		return m
	}
	const pace = 3 // 45 g/h
	before, never, weekly := New().company(pace), live(false).company(pace), live(true).company(pace)
	if never > before/3 || weekly < 2*never {
		t.Errorf("guests in a step: %.2g before, %.2g after half a year without, %.2g with one evening a week", before, never, weekly)
	}
}

func at(m *Model, hour float64) *Moment {
	t := m.At(hour)
	return &t
}
