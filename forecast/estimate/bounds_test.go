package estimate

import (
	"math"
	"testing"
	"time"
	"unsafe"

	drinks "tarebell/forecast/serving"
	"tarebell/forecast/unit"
)

// TestBeginning: what is believed before anything was seen.
func TestBeginning(t *testing.T) {
	known := New(Options{House: 15000, NetFill: 9070, UsePrior: 40})
	known.Filled(monday, 9070, 0)
	s := known.State(monday)
	between(t, "sd of a told guess of the use, as a share", s.Use.SD/s.Use.Mean, 0.7, 0.95)
	if s.Learned {
		t.Error("a guess that was told passes for learned")
	}
	between(t, "scatter of a scale not seen, g", float64(s.NoiseSD), 14, 28)
	between(t, "a serving, over a litre at 3.5 volumes (common practice)", (&Options{}).serving()/(3.5*float64(drinks.PerVolume)), 0.8, 1.25)

	var c core
	c.begin(&entry{}, &Options{House: 15000, NetFill: 9070})
	for range 5 {
		c.typedNoise.learn(0, 0, 1)
	}
	between(t, "scatter after five typed weights as expected, over before", math.Sqrt(c.typedNoise.variance)/100, 0.64, 0.735)
}

// TestLearned: the use counts as learned when it is known to about half of itself and a week has been weighed.
func TestLearned(t *testing.T) {
	s := newStory(Options{})
	seen, first := 0, s.at
	for range 80 {
		s.at, s.gas = s.at.Add(12*time.Hour), s.gas-2
		s.weigh(0)
		u := s.f.State(s.at)
		days := s.at.Sub(first).Hours() / 24
		switch share := u.Use.SD / u.Use.Mean; {
		case days < 7.5:
			if days < 6.5 && u.Learned {
				t.Errorf("learned after %g days", days)
			}
		case share < 0.5 && !u.Learned, share > 0.6 && u.Learned:
			t.Errorf("use %.0f ± %.0f g/day: learned %v", u.Use.Mean, u.Use.SD, u.Learned)
		case share < 0.5 && share > 0.37:
			seen++
		}
	}
	if seen == 0 {
		t.Error("the use was never known to between 37 and 50 %")
	}
}

// TestLearnedInAWeek: a guess that the first days confirm counts as learned after a week, not before: they say little about the weekend.
func TestLearnedInAWeek(t *testing.T) {
	s := newStory(Options{House: 15000, NetFill: 9070, UsePrior: 40})
	for day := 1; day <= 9; day++ {
		s.run(1, 40, 0)
		if u := s.f.State(s.at); u.Learned && day <= 6 || !u.Learned && day == 9 {
			t.Errorf("day %d: use %.0f ± %.0f g/day, learned %v", day, u.Use.Mean, u.Use.SD, u.Learned)
		}
	}
}

// TestLate: what is told three weeks late counts as if it had been told in time; what is kept for that has a bound.
func TestLate(t *testing.T) {
	tell := func(late int) float64 {
		s := newStory(Options{})
		s.run(30, 40, 0)
		from := s.at
		s.run(10, 40, 5)
		to := s.at
		s.run(late, 40, 0)
		s.f.Lost(from, to, 1200, 60)
		s.run(21-late, 40, 0)
		return s.use()
	}
	between(t, "use when told three weeks late over use when told at once", tell(20)/tell(0), 0.995, 1.005)
	if size := unsafe.Sizeof(Filter{}) / 1024; size > 500 {
		t.Errorf("a filter takes %d kB", size)
	}
	if size := unsafe.Sizeof(tables{}) / 1024; size > 512 {
		t.Errorf("tables take %d kB", size)
	}
	between(t, "sigmas of the farthest luck", newTables().normal[tableSize-1], 3.5, 4.5)
}

// TestDays: a household's day runs from about 3 to 3 o'clock; weekdays are remembered for half a year, quarters of the day for some months.
func TestDays(t *testing.T) {
	saturday := float64(time.Date(2026, 1, 3, 0, 0, 0, 0, time.UTC).Unix())
	for hour, want := range map[float64]time.Weekday{2: time.Friday, 4: time.Saturday} {
		if day, _, _ := slot(saturday + hour*3600); day != int(want) {
			t.Errorf("what is drawn at %g on a Saturday counts for weekday %d", hour, day)
		}
	}
	p := newPattern()
	for day := range 73 * 7 {
		use := 0.0
		if wd := time.Weekday(day % 7); wd == time.Friday && day < 420 || wd == time.Tuesday && day >= 420 {
			use = 1000
		}
		p.learnDay(day%7, use)
	}
	between(t, "a quarter after the evening of the week became another one, the new over the old", p.day[time.Tuesday]/p.day[time.Friday], 0.58, 0.95)
	for i := range 2200 {
		p.learnPart(2+i/2000, 1)
	}
	between(t, "200 quarters after the time of day became another one, the new over the old", p.part[3]/p.part[2], 0.5, 0.85)
}

// TestClockChange: local time changes in the middle of a night.
func TestClockChange(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Skip(err)
	}
	f := New(Options{Location: vienna})
	change := float64(time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC).Unix())
	if before, after := f.zone(change-1), f.zone(change); before != 3600 || after != 7200 {
		t.Errorf("offset %g s before and %g s after the change to summer time", before, after)
	}
}

// TestDry: a cylinder that ran dry holds the heel to some tens of grams; one that seems empty may be so though nobody said it.
func TestDry(t *testing.T) {
	s := newStory(Options{})
	s.run(30, 40, 0)
	s.f.RanDry(s.at)
	between(t, "sd of the gas when it ran dry", s.f.State(s.at).Gas.SD, 13, 27)

	s = newStory(Options{})
	s.run(30, 40, 0)
	s.gas = -400
	s.run(3, 0, 0)
	_, out := s.f.Forecast(s.at, 120, 2500)
	between(t, "probability that it is empty now", out.CDF(0), 0.07, 0.14)
}

// TestFarAhead: a forecast reaches half a century ahead and not a whole one, its spread stays within reason, and it depends little on luck.
func TestFarAhead(t *testing.T) {
	ahead := func(use unit.GramsPerDay, seed uint64) (q [3]float64) {
		f := New(Options{House: 24000, NetFill: unit.Pounds(50), UsePrior: use, Seed: seed})
		f.Filled(monday, 0, 0)
		f.Observe(Observation{At: monday.Add(time.Hour), Gross: 24000 + unit.Pounds(50)*0.99})
		_, d := f.Forecast(monday.Add(time.Hour), 0, 6500)
		for i, p := range []float64{0.05, 0.5, 0.95} {
			q[i] = float64(d.Quantile(p)) / 365.25
		}
		return q
	}
	between(t, "years at 1.2 g a day", ahead(1.2, 0)[1], 40, 50)
	between(t, "years at 0.6 g a day: beyond what can be said", ahead(0.6, 0)[1], math.Inf(1), math.Inf(1))
	var luck, wide float64
	for seed := range uint64(12) {
		q := ahead(2.33, seed)
		luck += math.Pow(math.Log(q[0]/7.5), 2) / 12
		wide += math.Log(q[2]/q[0]) / 12
	}
	between(t, "luck in the lowest quantile of 25 years", math.Sqrt(luck), 0.045, 0.095)
	between(t, "width of 25 years", wide, 2, 2.3)
}

// TestLogging: what logged servings are taken for.
func TestLogging(t *testing.T) {
	for _, c := range []struct {
		o           Options
		least, most float64
	}{{Options{NetFill: 9070}, 0.68, 0.9}, {Options{NetFill: 9070, Serving: 7}, 0.5, 0.75}} {
		m := c.o.start(9000, 100)
		m.expectLogs(&c.o, count{n: 1e6, w: 1})
		g := &m.node[0].g[home]
		between(t, "servings logged per serving made, at first", math.Exp(g.k)*c.o.serving(), 0.45, 0.8)
		between(t, "sd of its logarithm", math.Sqrt(g.kk), c.least, c.most)
	}
	between(t, "scatter of the share logged of very many servings", math.Sqrt((&count{n: 1e6}).noise()), 0.11, 0.2)
	between(t, "relative variance of one serving logged", (&count{n: 1}).noise(), 1, 1.7)

	logged := func(n float64) *Filter {
		f := New(Options{House: 15000, NetFill: 9070})
		f.Filled(monday, 9070, 0)
		f.Observe(Observation{At: monday, Gross: 24000, Manual: true})
		for i := range 10 {
			f.Made(monday.Add(time.Duration(i)*3*time.Hour), n/10)
		}
		return f
	}
	for n, want := range map[float64]bool{5: false, 7: true} {
		if f := logged(n); f.core.logged != want {
			t.Errorf("%g servings logged make a span: %v", n, f.core.logged)
		}
	}
	for n, want := range map[float64]bool{2.5: false, 3.5: true} {
		f := logged(n)
		if f.State(monday.Add(48 * time.Hour)); f.work.logged != want {
			t.Errorf("%g servings logged count when a forecast is asked for: %v", n, f.work.logged)
		}
	}
	var d diary
	d.add(0, 1)
	d.add(1000, 800)
	if d.n < 800 {
		t.Errorf("of 800 servings %g count", d.n)
	}
	if d.add(2000, 1e6); d.n > 1400 {
		t.Errorf("of a million servings %g count", d.n)
	}
	for days, want := range map[float64]bool{25: false, 40: true} { // after a silence of 100 days
		var d diary
		d.add(0, 1)
		d.add(100*secondsDay, 1)
		d.anew = false
		if d.add((100+days)*secondsDay, 1); d.anew != want {
			t.Errorf("a silence of %g days ends a span of logging: %v", days, d.anew)
		}
	}
	nd := node{parameters: parameters{phi: 8}, w: [modes]float64{0.5, 0, 0.5}}
	nd.g[home] = gauss{m: 5000, mm: 1e4, oo: 1e4, u: 3, uu: 0.1, xx: 0.1, k: -2, kk: 0.1}
	at, _, gone := nd.served(count{n: 10, w: 2, unseen: 1})
	between(t, "odds by which a log speaks against an absence", at/gone, 40, 80)
}

// TestShareLogged: which share of the servings is logged may wander; after a silence it may be another one.
func TestShareLogged(t *testing.T) {
	o := Options{House: 15000, NetFill: 9070, Serving: 7}
	follows := func(anew bool) float64 { // share of a change of ln(share) by ln 2 that the first week of it shows
		var c core
		c.begin(&entry{}, &o)
		for i := range c.mix.node[:c.mix.n] {
			for k := range c.mix.node[i].g {
				c.mix.node[i].g[k] = gauss{m: 5000, mm: 1, oo: 1, u: math.Log(40), uu: 1e-4, xx: 1e-4}
			}
		}
		week := func(i int, n, r float64) float64 {
			c.lastT = float64(i+1) * 7 * secondsDay // weighed
			c.log(&entry{t: c.lastT, from: c.lastT - 7*secondsDay, y: n, r: r}, &o, &reports{}, func(float64) float64 { return 0 })
			return c.mix.node[0].g[home].k
		}
		before := 0.0
		for i := range 60 {
			before = week(i, 24, 0)
		}
		r := 0.0
		if anew {
			d := diary{n: 24, to: secondsDay, anew: true}
			e, _ := d.span(1)
			r = e.r
		}
		return (before - week(60, 12, r)) / math.Ln2
	}
	between(t, "share of a change that a week shows", follows(false), 0.19, 0.31)
	between(t, "the same after a silence", follows(true), 0.48, 0.68)
}

// TestLaws: what households may be like before they are known.
func TestLaws(t *testing.T) {
	o := Options{House: 15000, NetFill: 9070}
	m := o.start(9000, 100)
	mean, sd := o.levelPrior()
	var spread, share, rest float64
	for _, nd := range m.node[:m.n] {
		d := nd.g[home].u - mean
		spread += nd.p * (nd.g[home].uu + d*d)
		if nd.tau < lawTau/2 {
			share = math.Erfc(math.Log(3) / nd.sd / math.Sqrt2)
			rest = math.Exp(-7 / nd.tau)
		}
	}
	between(t, "spread of the levels tried, over that believed", math.Sqrt(spread)/sd, 1.1, 1.17)
	between(t, "who draws by spells: days of a third or of three times the week's", share, 0.05, 0.25)
	between(t, "what is left of a spell a week later", rest, 0.09, 0.29)

	var l mixture
	l.n = maxNodes
	l.spreadParameters(8)
	var slow, walk, lumps, n, all float64
	for i, nd := range l.node {
		lumps += nd.p * math.Pow(math.Log(nd.phi/8), 2)
		all += nd.p
		if i%4 == 3 {
			slow, walk, n = slow+math.Log(nd.tau), walk+math.Log(nd.sd), n+1
		}
	}
	between(t, "days that the level of a household with seasons wanders", math.Exp(slow/n), 140, 270)
	between(t, "how far, of ln(use)", math.Exp(walk/n), 0.25, 0.45)
	between(t, "sd of ln of the lumps", math.Sqrt(lumps/all), 0.38, 0.62)
}

// TestAbsenceMemory: how often a household is away is learned from about the last two years.
func TestAbsenceMemory(t *testing.T) {
	s := newStory(Options{House: 15000, NetFill: 90700, Heel: 120})
	for range 5 * 365 {
		s.at, s.gas = s.at.AddDate(0, 0, 1), s.gas-40
		s.weigh(0)
	}
	between(t, "days that the share of days away rests on after five years", s.f.core.allDay, 550, 780)
}

// TestFarOut: what stands far out counts as noisier than it said.
func TestFarOut(t *testing.T) {
	g := gauss{mm: 100, oo: 1e-6, uu: 0.1, xx: 0.1}
	g.observe(141, 100)
	between(t, "g that a reading ten sigmas off moves the gas", g.m, 9, 14)
	g = gauss{m: 5000, mm: 1e4, oo: 1e4, uu: 0.1, xx: 0.1, kk: 0.1}
	g.serve(count{n: 10, w: 10 / math.Exp(3)}, 8)
	between(t, "by how much ln(use) follows twenty times the servings expected", g.u, 0.22, 0.33)
}

// TestTypedMasses: a small cylinder goes onto a kitchen scale, a large one onto a bathroom scale; another cylinder of the same size may weigh some
// hundred grams more or less.
func TestTypedMasses(t *testing.T) {
	small, large := Options{House: 3000, NetFill: 1000}, Options{House: 4500, NetFill: 2000}
	between(t, "scatter of typed weights of 4 kg", small.typedSD(), 10, 40)
	between(t, "scatter of typed weights of 6.5 kg", large.typedSD(), 70, 140)
	s := newStory(Options{House: 15000, NetFill: 9070, Heel: 120, Swapped: true})
	s.run(5, 40, 0)
	s.f.Filled(s.at, 9070, 0)
	between(t, "sd of the zero after a swap", s.f.State(s.at).Offset.SD, 550, 950)
}

// TestHeldWithinLittle: what is known far less well than the bounds allow is anywhere within them, and a number.
func TestHeldWithinLittle(t *testing.T) {
	for _, sd := range []float64{1e3, 1e6, 1e9, 1e12, 1e18} {
		n := held(Normal{9e5, sd}, 0, 1)
		if math.Abs(n.Mean-0.5) > 0.5 || !(n.SD > 0 && n.SD < 0.3) {
			t.Errorf("sd %g: %v", sd, n)
		}
	}
}
