package loss

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// TestOnsetIsExact: the evidence of an onset is the difference of the log likelihoods of two Kalman filters, one of which
// is told of the loss (Willsky & Jones 1976: for linear systems the ratio is exact).
func TestOnsetIsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	var nights [40]float64
	for i := range nights {
		nights[i] = 3*r.NormFloat64() - 2
	}
	const v, from = 4.0, 15
	likelihood := func(g float64) (ll float64) {
		mu, p := 0.0, usualSD*usualSD
		for i, b := range nights {
			p += wander * wander
			if i >= from {
				b += g
			}
			s := p + v
			ll -= (math.Log(2*math.Pi*s) + (b-mu)*(b-mu)/s) / 2
			mu += p / s * (b - mu)
			p *= 1 - p/s
		}
		return ll
	}
	var o onsets
	mu, p := 0.0, usualSD*usualSD
	for i, b := range nights {
		p += wander * wander
		s := p + v
		if i == from {
			o.add(onset{})
		}
		o.surprised(b-mu, s, p/s)
		mu += p / s * (b - mu)
		p *= 1 - p/s
	}
	for _, g := range slowRates {
		if got, want := o.of[0].says(g), likelihood(g)-likelihood(0); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g g/h: evidence %.6f, two filters say %.6f", g, got, want)
		}
	}
	if c := o.of[0]; math.Abs(c.most()-c.says(c.d/c.j)) > 1e-9 && c.d > 0 {
		t.Errorf("at most %.3f, but %.3f", c.most(), c.says(c.d/c.j))
	}
}

// TestGLRThreshold holds the closed form to simulation: independent normal values of known mean, without any step, must
// signal at about the rate asked for. The window of 100 and the discrete values are as in use.
func TestGLRThreshold(t *testing.T) {
	for _, rate := range []float64{1. / 100, 1. / 400, 1. / 1500} {
		limit := glrThreshold(rate)
		r := rand.New(rand.NewPCG(2, uint64(1/rate)))
		const runs = 250
		total := 0
		for range runs {
			var o onsets
			for signal := false; !signal; total++ {
				o.add(onset{})
				o.surprised(r.NormFloat64(), 1, 0)
				for i := range o.all() {
					signal = signal || o.of[i].most() >= limit
				}
			}
		}
		got := float64(total) / runs * rate
		t.Logf("asked 1 in %.0f: 1 in %.0f, at %.2f", 1/rate, got/rate, limit)
		if math.Abs(got-1) > 0.25 { // four standard errors of the simulation
			t.Errorf("asked 1 in %.0f: 1 in %.0f", 1/rate, got/rate)
		}
	}
}

// TestRateOfASlowLoss: over many households the rate told for a loss just found is neither too high nor too low, though
// only nights that stand out are told: what is thought of rates before they are weighed holds against that.
func TestRateOfASlowLoss(t *testing.T) {
	var ratio, within, n float64
	for i := range 400 {
		r := rand.New(rand.NewPCG(3, uint64(i)))
		w := New(Options{})
		s := &w.nights
		g := math.Exp(r.Float64() * math.Log(8)) // 1 to 8 g/h
		at := time.Date(2025, 1, 1, 23, 0, 0, 0, time.UTC)
		for night := range 150 {
			at = at.AddDate(0, 0, 1)
			b := 2 * r.NormFloat64()
			if night >= 40 {
				b -= g
			}
			s.weigh(b, 4, at)
			if f, ok := s.test(w, Reading{At: at.Add(7 * time.Hour)}); ok {
				if night >= 40 {
					ratio += math.Log(float64(f.Rate) / g)
					n++
					if math.Abs(float64(f.Rate)-g) < 2*float64(f.RateSD) {
						within++
					}
				}
				break
			}
		}
	}
	t.Logf("%.0f found, rate told over the true one %.2f (geometric mean), within two sigma %.2f", n, math.Exp(ratio/n), within/n)
	if m := math.Exp(ratio / n); n < 250 || m < 0.85 || m > 1.2 || within/n < 0.85 {
		t.Errorf("%.0f found, %.2f of the true rate, %.2f within two sigma", n, m, within/n)
	}
}

// sleeper is a household of 200 ± 10 g a day whose nights are flat to within 1 g/h.
type sleeper struct {
	w  *Watch
	r  *rand.Rand
	at time.Time
}

func newSleeper() *sleeper {
	return &sleeper{w: New(Options{}), r: rand.New(rand.NewPCG(5, 5)), at: time.Date(2025, 1, 1, 23, 0, 0, 0, time.UTC)}
}

// nights lets so many pass in which g/h leave and seen of it looks like use, and returns the first after which a loss is told; 0: none.
func (h *sleeper) nights(n int, g, seen float64) (told int) {
	s := &h.w.nights
	for i := range n {
		h.at = h.at.AddDate(0, 0, 1)
		s.days.learn(200 + 24*g + 10*h.r.NormFloat64())
		s.weigh(-g+h.r.NormFloat64(), 1, h.at)
		s.seen += (seen - s.seen) / seenMemory
		s.onsets.pass()
		if f, ok := s.test(h.w, Reading{At: h.at.Add(7 * time.Hour)}); ok && told == 0 {
			told = i + 1
			h.w.begin(f)
		}
	}
	return told
}

// A loss that looks like use at night is told all the same: nobody draws far more there from one night on.
func TestLossThatLooksLikeUse(t *testing.T) {
	h := newSleeper()
	if told := h.nights(40, 0, 0.1); told > 0 {
		t.Fatalf("told after %d nights without one", told)
	}
	if told := h.nights(20, 3, 60); told == 0 || told > 6 {
		t.Errorf("a loss of 3 g/h is told after %d nights", told)
	}
}

// Nights that shift by as much as the household once said was its own are not asked about again in the year after.
func TestShiftedNights(t *testing.T) {
	h := newSleeper()
	h.nights(40, 0, 0)
	if told := h.nights(12, 3, 0); told == 0 {
		t.Fatal("the first shift is not asked about")
	}
	h.w.Dismiss()
	h.nights(60, 0, 0)
	h.w.raised = 0
	if told := h.nights(30, 3, 0); told > 0 {
		t.Errorf("asked again after %d nights", told)
	}
}

// A slow loss that was told and stopped by itself was use: by as much the nights may shift again. One that was mended was none.
func TestShiftThatStops(t *testing.T) {
	for name, end := range map[string]func(*Watch){"stopped": func(w *Watch) { w.stopped(Reading{}) }, "mended": (*Watch).Repaired} {
		h := newSleeper()
		h.nights(40, 0, 0)
		if told := h.nights(12, 3, 0); told == 0 {
			t.Fatal("the shift is not asked about")
		}
		end(h.w)
		if got := h.w.nights.shifted; (got > 1) != (name == "stopped") {
			t.Errorf("%s: the nights may shift by %.1f g/h", name, got)
		}
	}
}
