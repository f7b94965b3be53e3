package estimate

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"tarebell/forecast/unit"
)

// household is an invented household whose law is known. Its days are drawn one by one.
type household struct {
	r       *rand.Rand
	kind    string
	net     float64 // g, nominal fill
	serving float64
	mu      float64 // ln g/day
	x       float64
	sd, tau float64
	week    [7]float64
	awayP   float64
	partyP  float64
	stepP   float64
	away    int
	day     int
	phase   float64
	regime  int
	made    float64 // servings of the day drawn last
}

// newHousehold draws one. Kinds: worlds (an Ornstein-Uhlenbeck log level, Poisson servings), walk (random-walk level, negative-binomial
// servings), season (yearly swing), regime (two levels, Markov), steady (a fixed dose a day), weekend (only at weekends).
func newHousehold(r *rand.Rand, kind string) *household {
	net := []float64{2270, 4540, 9070, 9070, 22680}[r.IntN(5)]
	h := &household{r: r, kind: kind, net: net}
	h.serving = 4 + 8*r.Float64()
	rate := net / math.Exp(math.Log(40)+r.Float64()*math.Log(500.0/40))
	h.mu = math.Log(rate)
	h.sd, h.tau = 0.08+0.37*r.Float64(), 12+78*r.Float64()
	h.x = h.sd * r.NormFloat64()
	h.awayP, h.partyP = 0.004, 0.008
	if r.Float64() < 0.3 {
		h.stepP = 1 / 200.0
	}
	h.phase = 2 * math.Pi * r.Float64()
	sum := 0.0
	for i := range h.week {
		h.week[i] = math.Exp(0.25 * r.NormFloat64())
		if i == 0 || i == 6 {
			h.week[i] *= 1.3
		}
		sum += h.week[i]
	}
	for i := range h.week {
		h.week[i] *= 7 / sum
	}
	return h
}

// next is the use of the next day, g; weekday 0 is Sunday.
func (h *household) next() float64 {
	r := h.r
	wd := h.day % 7
	h.day++
	if r.Float64() < h.stepP/3 {
		h.mu += 0.45 * r.NormFloat64()
	}
	level := h.mu + h.x - h.sd*h.sd/2
	switch h.kind {
	case "walk":
		h.mu += 0.03 * r.NormFloat64()
		level = h.mu
	case "season":
		level = h.mu + 0.5*math.Sin(2*math.Pi*float64(h.day)/365+h.phase)
	case "regime":
		if r.Float64() < 1/45.0 {
			h.regime = 1 - h.regime
		}
		level = h.mu + float64(h.regime)*0.7 - 0.35
	}
	a := math.Exp(-1 / h.tau)
	h.x = a*h.x + h.sd*math.Sqrt(1-a*a)*r.NormFloat64()
	h.made = 0
	if h.away > 0 {
		h.away--
		return 0
	}
	if r.Float64() < h.awayP {
		h.away = 4 + r.IntN(12) - 1
		return 0
	}
	mean := math.Exp(level) * h.week[wd] / h.serving
	var n float64
	switch h.kind {
	case "walk", "regime":
		mean *= gamma(r, 3) / 3
		n = poisson(r, mean)
	case "steady":
		n = math.Max(0, mean*(1+0.2*r.NormFloat64()))
	case "weekend":
		if wd != 0 && wd != 6 {
			return 0
		}
		n = poisson(r, mean*3.5/h.week[wd])
	default:
		n = poisson(r, mean)
	}
	if r.Float64() < h.partyP {
		n += 6 + 16*r.Float64()
	}
	h.made = n
	return n * h.serving * (1 + 0.05*r.NormFloat64())
}

func poisson(r *rand.Rand, mean float64) float64 {
	if mean > 200 {
		return math.Max(0, math.Round(mean+math.Sqrt(mean)*r.NormFloat64()))
	}
	n := 0.0
	for s := r.ExpFloat64(); s < mean; s += r.ExpFloat64() {
		n++
	}
	return n
}

// gamma draws from the Gamma distribution of integer shape k.
func gamma(r *rand.Rand, k int) (g float64) {
	for range k {
		g += r.ExpFloat64()
	}
	return g
}

// trial is one invented cylinder: what was forecast at set fractions, and what came.
type trial struct {
	frac  float64
	q     [7]float64
	y     float64
	known bool
	life  float64 // days the whole cylinder lasted
}

var quantiles = [7]float64{.05, .10, .25, .50, .75, .90, .95}

// weighing is how a household weighs.
type weighing int

const (
	scale weighing = iota // hourly
	typed                 // now and then by hand, every 3 to 15 days on average
)

// tryCylinder runs one cylinder to its end under the filter. log, if given, tells the filter at 20 o'clock of what was made that day; gone is the share of the gas that is gone.
func tryCylinder(seed uint64, kind string, how weighing, log logger) []trial {
	r := rand.New(rand.NewPCG(seed, 77))
	h := newHousehold(r, kind)
	start := time.Date(2027, 1, 4, 6, 0, 0, 0, time.UTC)
	heel := 0.0136 * h.net
	gas := h.net * (0.97 + 0.03*r.Float64())
	offset := 70 * r.NormFloat64()
	sigma := 10 + 40*r.Float64()
	hand := 120 + 80*r.Float64()
	every := 3 + 12*r.Float64()
	temp := 4 * r.NormFloat64()
	zero := 0.0
	f := New(Options{House: 15000, NetFill: unit.Grams(h.net), Heel: unit.Grams(heel), Seed: seed})
	f.Filled(start, unit.Grams(h.net), 0)
	fracs := []float64{0.8, 0.6, 0.4, 0.25, 0.15, 0.08}
	usable := gas - heel
	var out []trial
	var at []time.Time
	nextHand := r.ExpFloat64() * 0.5
	h.day = 1 // 4 January 2027 is a Monday
	for d := 0; d < 3000; d++ {
		for len(fracs) > 0 && d > 0 && gas-heel < fracs[0]*usable {
			now := start.AddDate(0, 0, d)
			_, q := f.Forecast(now, unit.Grams(heel), unit.Grams(0.285*h.net))
			tr := trial{frac: fracs[0], known: q.Known()}
			for i, p := range quantiles {
				tr.q[i] = math.Min(float64(q.Quantile(p)), 1500)
			}
			out, at = append(out, tr), append(at, now)
			fracs = fracs[1:]
		}
		u := h.next()
		// the day's use falls between 8 and 22 o'clock, in four parts
		zero += 2*r.NormFloat64() - zero/200
		for hour := range 24 {
			clock := (hour + 6) % 24
			if part := clock - 8; part >= 0 && part < 14 {
				du := u / 14
				if gas-heel <= du {
					end := start.AddDate(0, 0, d).Add(time.Duration((float64(hour) + (gas-heel)/du) * float64(time.Hour)))
					for i := range out {
						out[i].y, out[i].life = end.Sub(at[i]).Hours()/24, end.Sub(start).Hours()/24
					}
					return slices.DeleteFunc(out, func(t trial) bool { return t.y < 0.2 })
				}
				gas -= du
			}
			t := start.AddDate(0, 0, d).Add(time.Duration(hour)*time.Hour + 50*time.Minute)
			if log != nil && clock == 20 {
				if n := log(d, h.made, 1-(gas-heel)/usable); n > 0 {
					f.Made(t, n)
				}
			}
			gross := 15000 + offset + gas
			if how == typed {
				if days := float64(d) + float64(hour)/24; days >= nextHand {
					nextHand = days + every*r.ExpFloat64()
					y := math.Round((gross+hand*r.NormFloat64())/100) * 100
					f.Observe(Observation{At: t, Gross: unit.Grams(y), Manual: true})
				}
				continue
			}
			y := gross + zero + sigma*r.NormFloat64() + temp*2*math.Sin(2*math.Pi*float64(clock-9)/24)
			f.Observe(Observation{At: t, Gross: unit.Grams(math.Round(y/5) * 5)})
		}
	}
	return nil
}

func (w weighing) String() string {
	return [...]string{scale: "weighed hourly", typed: "typed"}[w]
}
