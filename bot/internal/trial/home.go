package trial

import (
	"fmt"
	"math"
	"time"

	"tarebell/bot/internal/app"
	"tarebell/bot/internal/household"
	"tarebell/config"
)

const (
	step = 5    // minutes; everything but events happens on multiples of it
	day  = 1440 // minutes
)

// start is when every household gets its first fill: a Monday.
var start = time.Date(2027, 1, 4, 6, 0, 0, 0, time.UTC)

func when(minute float64) time.Time { return start.Add(time.Duration(minute * float64(time.Minute))) }

func minuteOf(t time.Time) float64 { return t.Sub(start).Minutes() }

// Family is how a household weighs.
type Family string

// The families.
const (
	Auto     Family = "auto"     // a scale that is read every 15 to 60 minutes
	Typed    Family = "typed"    // a weight typed now and then
	Rough    Family = "rough"    // a scale with every fault we know, read every 5 to 60 minutes
	Careless Family = "careless" // weights typed with slips of every sort
	Leak     Family = "leak"     // auto, and gas is lost from some moment on
	Trouble  Family = "trouble"  // auto, with everything that looks like a loss and is none
)

// Spec is what a household is drawn from. The same Spec makes the same household.
type Spec struct {
	Seed   uint64
	Family Family
	Law    *Law
	Days   int
	Single bool        // one cylinder's life, 45 to 420 days, and no losses but of family leak
	Losses bool        // several a year
	Again  bool        // the scale is read again, and sooner, when the engine asks for it
	Risk   float64     // accepted, of running dry; 0: the config's
	Series [][]float64 // daily use of real homes, mean 1; for the law series
}

// Home is a household with its cylinder, its scale and all that will befall it whatever anybody says.
type Home struct {
	Spec
	end     int     // minute
	net     float64 // g, nominal
	first   float64 // g, of the first fill
	heel    float64 // g that cannot be drawn
	volume  float64 // L
	tare    float64 // g, as stamped
	fit     float64 // g, as told
	house   float64 // g, the truth of both
	lead    int     // days
	rate    float64 // g/day
	serving float64 // g
	typed   bool
	series  [][]float64
	draws   []draw
	leaks   []leak
	scale   scale
}

// Gas densities at 20 °C: a fill of 0.68 kg/L is the usual filling ratio of CO2; vapour at 5 bar by Span and Wagner (1996).
const (
	fillingRatio = 0.68 // kg/L
	vapour5bar   = 9.26 // g/L
)

// NewHome draws a household.
func NewHome(s Spec) *Home {
	r := newRNG(s.Seed, homeStream)
	h := &Home{Spec: s, end: s.Days * day, series: s.Series, typed: s.Family == Typed || s.Family == Careless}
	h.size(r)
	h.volume = h.net / 1000 / fillingRatio
	h.heel = h.volume * vapour5bar
	h.first = h.net * r.between(0.975, 1)
	h.tare = 10 * math.Round((h.net*r.between(1.1, 2.1)+2000)/10)
	h.fit = 10 * math.Round(r.between(60, 160))
	h.house = h.tare + h.fit + r.normal(0, 50)
	if h.net < 1000 {
		h.tare, h.fit = 10*math.Round(h.net*r.between(0.18, 0.25)), 0
		h.house = h.tare + r.normal(0, 3)
	}
	h.serving = r.between(4, 12)
	h.draws = h.drawAll()
	h.scale = h.newScale()
	h.leaks = h.drawLeaks()
	return h
}

// size draws the cylinder, the use and how long a refill takes.
func (h *Home) size(r rng) {
	nets := h.Law.nets
	if nets == nil {
		nets = []float64{2270, 4540, 6000, 9070, 9070, 10_000, 22_680}
		if h.Single {
			nets = []float64{2270, 4540, 9070, 9070, 22_680}
		}
	}
	rate := h.Law.rate
	if rate == [2]float64{} {
		rate = [2]float64{8, 160}
	}
	h.net = oneOf(r, nets...)
	for h.rate = 0; h.net/h.rate < min(18, 4+h.net/rate[1]) || h.net/h.rate > 900; { // a fill lasts weeks, but no years
		h.net, h.rate = oneOf(r, nets...), r.logBetween(rate[0], rate[1])
	}
	if h.Single && h.Law.rate == [2]float64{} {
		h.rate = min(max(h.net/r.logBetween(45, 420), 6), 220)
	}
	h.lead = oneOf(r, 1, 2, 3, 5, 7)
	for float64(h.lead) > 0.4*h.net/h.rate {
		h.lead--
	}
}

// Options is what the config of this household makes of it.
func (h *Home) Options() (household.Options, error) {
	risk := h.Risk
	if risk == 0 {
		risk = 0.05
	}
	c, err := config.Parse("trial", []byte(fmt.Sprintf(`household: {name: house, timezone: UTC}
cylinders:
  - name: main
    gas: co2
    tare: %.2f kg
    fittings: %.2f kg
    net_fill: %.3f kg
    water_capacity: %.2f L
    min_pressure: 5 bar
    room: {volume: 40 m3, air_changes: 0.5}
refill: {lead_days: %d, risk: %g%%}
`, h.tare/1000, h.fit/1000, h.net/1000, h.volume, h.lead, 100*risk)))
	if err != nil {
		return household.Options{}, err
	}
	return app.Household(c)
}
