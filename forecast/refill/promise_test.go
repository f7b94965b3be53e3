package refill

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/unit"
)

// Households of a known law book at the first due look: as many run dry as the plans said, and no more than accepted.
// The day's use is gamma with shape 4 and mean 40 g; the planner is told its mean and deviation as normal, which over a
// week's lead is near enough.
func TestStockoutIsAsPromised(t *testing.T) {
	src := rand.NewPCG(11, 4) // seed 11, 4
	day := distuv.Gamma{Alpha: 4, Beta: 0.1, Src: src}
	law := Demand{Use: 40, UseSD: 20}
	p := Policy{Risk: 0.05, Lead: fixed(7)}
	const households = 400
	dry, promised, variance := 0, 0.0, 0.0
	for range households {
		gas := unit.Grams(700 + 300*rand.New(src).Float64())
		for ; ; gas -= unit.Grams(day.Rand()) {
			plan := planned(t, p, monday, normalRunOut(gas, law, 200))
			if !plan.Due {
				continue
			}
			promised += plan.RiskNow
			variance += plan.RiskNow * (1 - plan.RiskNow)
			break
		}
		for range p.Lead.Median() {
			gas -= unit.Grams(day.Rand())
		}
		if gas <= 0 {
			dry++
		}
	}
	t.Logf("%d of %d ran dry, %.1f promised", dry, households, promised)
	if off := math.Abs(float64(dry) - promised); off > 4*math.Sqrt(variance) {
		t.Errorf("%d ran dry, %.1f promised ± %.1f", dry, promised, math.Sqrt(variance))
	}
	if limit := p.Risk*households + 4*math.Sqrt(p.Risk*(1-p.Risk)*households); float64(dry) > limit {
		t.Errorf("%d of %d ran dry at an accepted risk of %g", dry, households, p.Risk)
	}
}
