package forecast

import (
	"math"
	"time"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// interim stands in for the estimate package until that is there: a smoothed level and the mean use since
// the fill, spread like a gamma variable.
type interim struct {
	prior       float64
	first, last time.Time
	gas0, gas   float64
	n           int
}

func (e *interim) restart() { *e = interim{prior: e.prior} }

func (e *interim) observe(at time.Time, net float64) {
	if e.n == 0 {
		e.first, e.gas0, e.gas = at, net, net
	}
	e.n++
	e.gas += (net - e.gas) * math.Max(0.05, 1/float64(e.n))
	e.last = at
}

func (e *interim) state() (gas, use Normal, learned bool) {
	days := float64(unit.Between(e.first, e.last))
	w := 3.0
	prior := e.prior
	if prior <= 0 {
		prior = 30
	}
	rate := (math.Max(e.gas0-e.gas, 0) + w*prior) / (days + w)
	return Normal{e.gas, 30}, Normal{rate, rate / math.Sqrt(1+days/5)}, days > 7
}

func (e *interim) passage(now time.Time, level float64) runout.Distribution {
	_, use, _ := e.state()
	a := math.Max(e.gas-level, 0)
	draws := make([]unit.Days, 101)
	for i := range draws {
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/float64(len(draws))-1)
		rate := use.Mean * math.Exp(z*math.Min(use.SD/use.Mean, 1)*0.7)
		draws[i] = unit.Days(a / rate)
	}
	return runout.FromDraws(draws)
}
