package loss

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"tarebell/forecast/unit"
)

// home is a household on a scale read every half hour: servings of 8 g between 8 and 22 h, and a leak.
type home struct {
	r     *rand.Rand
	w     *Watch
	at    time.Time
	gas   float64
	use   float64 // g/day
	leak  float64 // g/h
	sd    float64 // g
	found []Found
}

func newHome(seed uint64, use, sd float64) *home {
	return &home{r: rand.New(rand.NewPCG(seed, 3)), w: New(Options{}), at: time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC), gas: 20000, use: use, sd: sd}
}

// live lets so many half hours pass.
func (h *home) live(steps int) {
	for range steps {
		h.at = h.at.Add(30 * time.Minute)
		if hour := h.at.Hour(); hour >= 8 && hour < 22 {
			for n := h.use / 8 / 28; n > 0; n-- {
				if h.r.Float64() < n {
					h.gas -= 8
				}
			}
		}
		h.gas -= h.leak / 2
		f, ok := h.w.Next(Reading{At: h.at, Gross: unit.Grams(h.gas + h.sd*h.r.NormFloat64()), SD: unit.Grams(h.sd), Hour: float64(h.at.Hour()) + float64(h.at.Minute())/60})
		if ok {
			h.found = append(h.found, f)
		}
	}
}

// TestEvidenceIsBounded: without a leak the statistic grows by no more than 1 a step on average (Pollak 1985), so after n steps it
// exceeds k·n with a probability of at most 1/k (Markov's inequality).
func TestEvidenceIsBounded(t *testing.T) {
	const n, k, runs = 240, 20, 150
	for _, use := range []float64{0, 40, 150} {
		over := 0
		for seed := range uint64(runs) {
			h := newHome(seed, use, 10)
			h.live(n)
			if len(h.found) > 0 || h.w.flow.evidence() > k*n {
				over++
			}
		}
		t.Logf("%g g/day: beyond in %d of %d", use, over, runs)
		if most := 1./k*runs + 3*math.Sqrt(1./k*runs); float64(over) > most {
			t.Errorf("%g g/day: evidence beyond %d a step in %d of %d households, want at most %.0f", use, k, over, runs, most)
		}
	}
}

// TestFlowTellsALeak: a leak is told the sooner the faster it is, at about its rate, is followed, and its end is told.
func TestFlowTellsALeak(t *testing.T) {
	for _, c := range []struct {
		leak, within float64 // g/h, h
	}{{30, 10}, {150, 3.5}, {600, 1.5}} {
		h := newHome(7, 50, 8)
		h.live(48 * 30)
		if len(h.found) > 0 {
			t.Fatalf("before anything: %+v", h.found)
		}
		begin, gas := h.at, h.gas
		h.leak = c.leak
		for len(h.found) == 0 && h.at.Sub(begin) < 24*time.Hour {
			h.live(1)
		}
		took := h.at.Sub(begin).Hours()
		if len(h.found) == 0 || took > c.within {
			t.Fatalf("%g g/h: %+v after %.1f h, want it within %g", c.leak, h.found, took, c.within)
		}
		f := h.found[0]
		t.Logf("%g g/h: told after %.1f h as %.0f ± %.0f g/h, %.0f ± %.0f g of %.0f", c.leak, took, f.Rate, f.RateSD, f.Lost, f.LostSD, gas-h.gas)
		if math.Abs(float64(f.Rate)-c.leak) > 3*float64(f.RateSD) || math.Abs(float64(f.Lost)-(gas-h.gas)) > 3*float64(f.LostSD)+20 {
			t.Errorf("%g g/h: %.0f g lost in truth, told %+v", c.leak, gas-h.gas, f)
		}
		h.leak = 0
		h.live(24)
		if last := h.found[len(h.found)-1]; last.Kind != Stopped {
			t.Errorf("%g g/h: its end was not told: %+v", c.leak, h.found)
		}
	}
}

// TestAnswersTeach: what the household says it drew is not asked about again the week after.
func TestAnswersTeach(t *testing.T) {
	h := newHome(9, 40, 8)
	h.live(48 * 14)
	asked := 0
	for range 6 {
		h.live(38) // 19 h
		h.found = nil
		h.leak = 220
		for range 8 {
			h.live(1)
			if len(h.found) > 0 {
				asked++
				h.found = nil
				h.w.Dismiss()
			}
		}
		h.leak = 0
		h.live(48*7 - 46)
	}
	if asked == 0 || asked > 2 {
		t.Errorf("a weekly evening of 900 g was asked about %d times in six weeks, want once or twice", asked)
	}
}

// TestFeastsTeach: a household whose feast of 2.3 kg was asked about is not asked about the next one, three months later; an open valve is told there all
// the same.
func TestFeastsTeach(t *testing.T) {
	feast := func(h *home) (told int) {
		h.found = nil
		for range 18 { // 9 h, 32 glasses an hour
			h.gas -= 8 * float64(h.r.IntN(33))
			h.live(1)
			if len(h.found) > 0 && told == 0 {
				told = len(h.found)
				h.w.Dismiss()
			}
		}
		return told
	}
	first, second := 0, 0
	const runs = 16
	for seed := range uint64(runs) {
		h := newHome(seed, 60, 5)
		h.live(48*60 + 24)
		first += feast(h)
		h.live(48*90 - 18)
		h.w.raised = 0
		second += feast(h)
		h.live(48*30 - 18)
		h.found, h.leak = nil, 250
		if h.live(16); len(h.found) == 0 {
			t.Errorf("household %d: 2 kg went, and nobody was told", seed)
		}
	}
	if first < runs-1 || second > runs/5 {
		t.Errorf("of %d households %d were asked about their first feast, %d about the second", runs, first, second)
	}
}

// TestGlassesAreNoLeak: the same 40 g an hour are told sooner where they leave steadily than where they are drawn glass by glass.
func TestGlassesAreNoLeak(t *testing.T) {
	const runs = 20
	var leak, glasses float64
	for seed := range uint64(runs) {
		for i, sum := range []*float64{&leak, &glasses} {
			h := newHome(seed, 20, 5)
			h.live(48*21 + 34)
			for steps := 0; len(h.found) == 0 && steps < 48; steps++ {
				if i == 0 {
					h.leak = 40
				} else if n := h.r.IntN(6); n > 0 { // 2.5 glasses of 8 g
					h.gas -= 8 * float64(n)
				}
				h.live(1)
				*sum += 0.5 / runs
			}
		}
	}
	t.Logf("a leak is told after %.1f h, glasses after %.1f h", leak, glasses)
	if leak > 8 || glasses < 2*leak {
		t.Errorf("a leak is told after %.1f h, glasses after %.1f h", leak, glasses)
	}
}

// TestAnEveningHurtsNobody: what guests drink in an evening is not told as a loss, whatever the evidence; of a small cylinder less is enough.
func TestAnEveningHurtsNobody(t *testing.T) {
	for _, c := range []struct{ fill, least float64 }{{0, 150}, {9000, 150}, {425, 28}} {
		h := newHome(4, 6, 2)
		h.w.opt.Fill = unit.Grams(c.fill)
		h.live(48*21 + 34)
		for h.leak = 20; len(h.found) == 0 && h.at.Year() == 2026; {
			h.live(1)
		}
		if lost := float64(h.found[0].Lost); lost < c.least || lost > 170 {
			t.Errorf("fill of %g g: told when %.0f g were gone, want %g or little more", c.fill, lost, c.least)
		}
	}
}
