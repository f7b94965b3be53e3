package loss

import (
	"math"
	"testing"
	"time"

	"tarebell/forecast/unit"
)

var newYear = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// sleep is one night of n readings through so many hours, of the given slope in g/h and scatter in g, of which drawn g/h were seen to be drawn.
func (s *nights) sleep(day, n int, hours, slope, sd, drawn float64) {
	r := Reading{SD: unit.Grams(sd), night: true}
	for i := range n {
		h := hours * float64(i) / float64(n-1)
		r.At, r.Gross, r.drawn = newYear.Add(time.Duration((24*float64(day)+23+h)*float64(time.Hour))), unit.Grams(slope*h), drawn*h
		s.add(r)
	}
	s.add(Reading{At: r.At.Add(4 * time.Hour)})
}

// slept is a household after nights of 8 readings in 7 hours with a scatter of sd g: slopes of ±amp g/h in turn, and from on by shift.
func slept(nightsOf, from int, amp, shift, sd float64) *nights {
	s := &nights{}
	s.reset(0, 8)
	for day := range nightsOf {
		slope := amp * float64(1-2*(day%2))
		if day >= from {
			slope += shift
		}
		s.sleep(day, 8, 7, slope, sd, 0)
	}
	return s
}

// counted is how many of one night's readings count as nights.
func counted(n int, hours float64) float64 {
	s := &nights{}
	s.reset(0, 8)
	s.sleep(0, n, hours, 1, 5, 0)
	return s.n
}

// TestParts: the parts of the watch by themselves, with what they come to.
func TestParts(t *testing.T) {
	repeat := func(n int, x ...float64) (out []float64) {
		for range n {
			out = append(out, x...)
		}
		return out
	}
	rest := func(flows ...float64) float64 { // g/h at rest, as days of these flows teach
		var b baseline
		for day, z := range flows {
			b.learn(z, 1, 1, newYear.AddDate(0, 0, day))
		}
		return b.flow
	}
	days := func(falls ...float64) (d daily) {
		for _, x := range falls {
			d.learn(x)
		}
		return d
	}
	calmer := slept(200, 0, 3, 0, 1)
	for day := range 60 {
		calmer.sleep(200+day, 8, 7, float64(1-2*(day%2)), 1, 0)
	}
	seen := slept(200, 0, 0, 0, 1)
	for day := range 30 {
		seen.sleep(200+day, 8, 7, 0, 1, 1)
	}
	more := func(g float64) float64 {
		d := days(repeat(15, 190, 210)...)
		c := &onset{day: d.mean, days: 2}
		d.learn(600)
		d.learn(600)
		x, _, _ := d.speaks(c, g)
		return x
	}
	own := nights{tau2: 4, serving: 8}
	for _, c := range []struct {
		what        string
		got         float64
		least, most float64
	}{
		{"g/h at rest after one morning of 4", rest(4), 2.35, 2.8},
		{"share of a lasting change at rest that ten days show", rest(append(repeat(100, 0), repeat(10, 1)...)...), 0.56, 0.68},
		{"g by which a day is known after ten equal ones", math.Sqrt(days(repeat(10, 20)...).variance), 6, 9.5},
		{"g/day, a month after it went from 20 to 50", days(append(repeat(100, 20), repeat(30, 50)...)...).mean, 33, 37.5},
		{"g a day more, by two days of 600 after ones of 200 ± 10, for a loss of 12 g/h", more(12), 285, 300},
		{"the same for one of 1 g/h, that guests may have drunk", more(1), 35, 60},
		{"variance of what 20 days say of who used 100 g a day", func() float64 {
			d := daily{n: 20, days: 20}
			_, v, _ := d.speaks(&onset{day: 100, days: 20}, 1)
			return v
		}(), 490, 680},
		{"usual slope after one night of 4 g/h", slept(1, 0, 4, 0, 13).usual, 2.3, 3.1},
		{"usual slope, 100 nights after it fell by 2 g/h", slept(400, 300, 2, -2, 13).usual, -1.35, -0.9},
		{"tau at first", math.Sqrt(slept(0, 0, 0, 0, 1).tau2), 0.45, 0.8},
		{"tau of quiet nights", math.Sqrt(slept(100, 0, 0, 0, 0.1).tau2), 0.2, 0.4},
		{"tau after five nights of ±3", math.Sqrt(slept(5, 0, 3, 0, 1).tau2), 1.8, 2},
		{"tau, 60 nights after it went from 3 to 1", math.Sqrt(calmer.tau2), 2.18, 2.37},
		{"g/h seen to be drawn, a month of nights after it became 1", seen.seen, 0.55, 0.72},
		{"g/h by which nights that scatter by 2 may shift with servings of 8 g", own.own(), 0.2, 0.34},
		{"share of the expected variance when nights do not vary", slept(300, 0, 0, 0, 13).share, 0.035, 0.07},
		{"nights of 4 readings", counted(4, 5), 0, 0},
		{"nights of 6 readings", counted(6, 5), 1, 1},
		{"nights of 3 hours", counted(12, 3), 0, 0},
		{"nights of 4 hours", counted(12, 4), 1, 1},
		{"nights of 24 hours", counted(48, 24), 3, 3},
		{"onsets after ten nights", float64(slept(10, 0, 1, 0, 5).onsets.next), 1, 3},
	} {
		if !(c.got >= c.least && c.got <= c.most) {
			t.Errorf("%s: %.4g, want %g to %g", c.what, c.got, c.least, c.most)
		}
	}
}

// TestProof: how much proof is asked for. A default household hears a false alarm of flow once in four years or less (Pollak's bound), of nights
// less often; after a false alarm 100 to 1000 times the odds are asked for, after many no more than a million times.
func TestProof(t *testing.T) {
	w := New(Options{})
	if years := math.Exp(w.threshold) / stepsPerYear; years < 3.9 || years > 10 {
		t.Errorf("flow: a false alarm in %.1f years", years)
	}
	if odds := math.Exp(w.thresholdAt(12) - w.threshold); odds < 20 || odds > 150 {
		t.Errorf("%.0f times the odds on the first Sunday", odds)
	}
	for step := range 48 {
		w.use.Seen(float64(step)/2, 0.5, 0, 0)
	}
	if w.thresholdAt(12) != w.threshold || w.thresholdAt(36) == w.threshold {
		t.Error("what was never seen is not known: after a Sunday a Sunday is, a Monday is not")
	}
	if years := 1 / w.nights.alarms; years < 12 || years > 25 {
		t.Errorf("nights: a false alarm in %.1f years", years)
	}
	if odds := math.Exp(glrThreshold(0.5)); odds < 15 {
		t.Errorf("odds of %.1f are enough where many false alarms are accepted", odds)
	}
	w.Dismiss()
	if odds := math.Exp(w.raised); odds < 100 || odds > 1000 {
		t.Errorf("after a false alarm %.1f times the odds are asked for", odds)
	}
	for range 20 {
		w.Dismiss()
	}
	if odds := math.Exp(w.raised); odds < 1e4 || odds > 1e6 {
		t.Errorf("after many false alarms %.3g times the odds are asked for", odds)
	}
	// Days that fell as much as a loss of 20 g/h would make them double the odds or treble them; days that would have shown it lower the bar
	// by a factor of ten or so.
	more, known := support(480, 100, 20)
	if odds := math.Exp(more); odds < 2 || odds > 4 {
		t.Errorf("days make the odds %.2f times as high", odds)
	}
	if odds := math.Exp(known); odds < 6 || odds > 25 {
		t.Errorf("days lower the bar by %.1f", odds)
	}
}

// TestLogged: what was logged explains that much of a fall, from half an hour before to half an hour after, a batch of fifty too, but no slip of the
// finger an open valve.
func TestLogged(t *testing.T) {
	for _, c := range []struct {
		what        string
		times       int
		n           float64       // at once
		late        time.Duration // after the fall
		least, most float64
	}{
		{"a serving", 1, 1, 0, 5, 11},
		{"a batch", 1, 50, 0, 380, 420},
		{"25 servings one by one", 25, 1, 0, 190, 210},
		{"a thousand", 1, 1000, 0, 400, 600},
		{"twenty minutes late", 1, 10, 20 * time.Minute, 70, 90},
		{"forty minutes late", 1, 10, 40 * time.Minute, 0, 0},
	} {
		w := New(Options{})
		for range c.times {
			w.Made(newYear.Add(time.Hour+c.late), c.n)
		}
		if got := w.logged.between(newYear, newYear.Add(time.Hour)); got < c.least || got > c.most {
			t.Errorf("%s: explains %g g, want %g to %g", c.what, got, c.least, c.most)
		}
	}
}

// TestWarmDay: a day warmer than usual is not taken for gas; after a month or so the warmth is usual.
func TestWarmDay(t *testing.T) {
	var w warmth
	last := 0.0
	for i := range 260 {
		r := Reading{Hour: 12, Coef: 1, Cell: 20}
		if i >= 200 {
			r.Cell = 26
		}
		last = w.anomaly(r)
	}
	if last < 1.7 || last > 2.7 {
		t.Errorf("60 readings after it became warmer by 6 °C, %.1f g are put down to it", last)
	}
}

// TestSlowLossStops: three or four nights as usual end a slow loss that was twice what nights scatter.
func TestSlowLossStops(t *testing.T) {
	w := New(Options{})
	w.nights.s2.E = 1
	w.begin(Found{Kind: Slow, Since: newYear, Rate: 2, RateSD: 0.5})
	for night := 1; ; night++ {
		if f, ok := w.episode.night(w, Reading{At: newYear.AddDate(0, 0, night)}, 0); ok {
			if night < 3 || night > 4 || f.Kind != Stopped {
				t.Errorf("night %d: %+v", night, f)
			}
			return
		}
	}
}

// TestSlowLossTold: a loss far beyond the scatter is told after its second night: one may be odd.
func TestSlowLossTold(t *testing.T) {
	w := New(Options{})
	told := func(night int, slope float64) bool {
		at := newYear.AddDate(0, 0, night)
		w.nights.weigh(slope, 4, at)
		_, ok := w.nights.test(w, Reading{At: at.Add(7 * time.Hour)})
		return ok
	}
	for night := range 40 {
		if told(night, float64(2-4*(night%2))) {
			t.Fatalf("told in night %d, before anything happened", night)
		}
	}
	if one, two := told(40, -12), told(41, -12); one || !two {
		t.Errorf("told after the first night: %v, after the second: %v", one, two)
	}
}

// TestLookBack: a loss of less than what nights scatter takes some two months to tell.
func TestLookBack(t *testing.T) {
	w := New(Options{})
	for night := range 200 {
		at := newYear.AddDate(0, 0, night)
		slope := 1.5 * float64(1-2*(night%2))
		if night >= 80 {
			slope--
		}
		w.nights.weigh(slope, 2.2, at)
		if _, ok := w.nights.test(w, Reading{At: at.Add(7 * time.Hour)}); ok {
			if n := night - 79; n < 50 || n > 98 {
				t.Errorf("told after %d nights", n)
			}
			return
		}
	}
	t.Error("never told")
}

// TestPending: what was drawn counts as use half a day later at most, and not before it is clear that no loss began with it.
func TestPending(t *testing.T) {
	h := newHome(3, 0, 2)
	h.live(480)
	steps, day := h.w.flow.log.n, h.w.use.Day()
	h.gas -= 100
	h.live(9)
	if now := h.w.use.Day(); now > day {
		t.Errorf("4.5 hours later a day takes %.1f g, %.1f before", now, day)
	}
	h.live(7)
	if now := h.w.use.Day(); now < day+3 {
		t.Errorf("8 hours later a day takes %.1f g, %.1f before", now, day)
	}
	if n := float64(steps) / 10; n < 40 || n > 55 {
		t.Errorf("a day of half-hourly readings has %g steps", n)
	}
}

// TestSilence: what went in a silence of some hours may be a loss; of more than that nobody knows what was used.
func TestSilence(t *testing.T) {
	for hours, want := range map[time.Duration]bool{5: true, 7: false} {
		h := newHome(3, 0, 2)
		h.live(480)
		h.at, h.gas = h.at.Add(hours*time.Hour), h.gas-700
		h.live(1)
		if got := h.w.flow.evidence() > 10; got != want {
			t.Errorf("700 g in %d hours: evidence %.3g", hours, h.w.flow.evidence())
		}
	}
}

// TestWorseLoss: a loss that grows threefold and much is told again, one that doubles is not.
func TestWorseLoss(t *testing.T) {
	for _, c := range []struct {
		leak, later float64
		want        bool
	}{{150, 320, false}, {150, 620, true}, {16, 62, true}} {
		h := newHome(7, 0, 3)
		h.live(48 * 20)
		h.leak = c.leak
		h.live(48)
		h.leak = c.later
		h.live(24)
		worse := false
		for _, f := range h.found {
			worse = worse || f.Kind == Worse
		}
		if worse != c.want {
			t.Errorf("%g, then %g g/h: %+v", c.leak, c.later, h.found)
		}
	}
}
