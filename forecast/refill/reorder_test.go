package refill

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

// Demand is use and lead time as means with standard deviations, for the textbook special case.
type Demand struct {
	Use, UseSD   unit.GramsPerDay // SD: of one day's use, days independent
	Lead, LeadSD unit.Days
}

// ReorderPoint is the usable gas at which to book when a day's use and the lead time are independent and normal:
//
//	ROP = d·L + z·√(L·σd² + d²·σL²),  z = Φ⁻¹(1 - risk);  safety stock = the second term.
//
// Policy.Plan needs none of these assumptions; this is what it comes to where they hold. Source: any operations textbook, such as Stevenson, Operations Management, 14th ed., chapter on
// inventory; Taylor, Introduction to Management Science, chapter 16.
func (d Demand) ReorderPoint(risk float64) (point, safety unit.Grams) {
	use, lead := float64(d.Use), float64(d.Lead)
	useSD, leadSD := float64(d.UseSD), float64(d.LeadSD)
	z := distuv.UnitNormal.Quantile(1 - risk)
	safety = unit.Grams(z * math.Sqrt(lead*useSD*useSD+use*use*leadSD*leadSD))
	return d.Use.Over(d.Lead) + safety, safety
}

// Quantiles of the normal law from SciPy.
func TestNormalQuantiles(t *testing.T) {
	for _, r := range reftest.Rows(t, "normal_quantiles") {
		p := r.Num(t, "probability")
		reftest.Within(t, r["probability"], distuv.UnitNormal.Quantile(p), r.Num(t, "z"), 1e-10)
		if p == 0.5 {
			continue
		}
		// A day of use of 0 ± 1 g and one day of lead time: the safety stock is z itself.
		_, safety := Demand{UseSD: 1, Lead: 1}.ReorderPoint(1 - p)
		reftest.Within(t, "safety at "+r["probability"], float64(safety), r.Num(t, "z"), 1e-9)
	}
}

func example(t testing.TB, r reftest.Row) (d Demand, risk float64) {
	return Demand{
		Use: unit.GramsPerDay(r.Num(t, "demand_mean_per_period")), UseSD: unit.GramsPerDay(r.Num(t, "demand_sd_per_period")),
		Lead: unit.Days(r.Num(t, "lead_time_mean_periods")), LeadSD: unit.Days(r.Num(t, "lead_time_sd_periods")),
	}, 1 - r.Num(t, "service_level")
}

// Textbook examples (sources in the table; some answers there are from memory). Against the recomputed point with
// exact z: printed digits. Against the printed answers, which use z of two decimals: 0.3 %.
func TestReorderPointExamples(t *testing.T) {
	for _, r := range reftest.Rows(t, "reorder_point_examples") {
		d, risk := example(t, r)
		point, safety := d.ReorderPoint(risk)
		reftest.Near(t, r["example"], float64(point), r.Num(t, "reorder_point_with_exact_z"), 2e-6)
		if want := r.Num(t, "reorder_point_published"); !math.IsNaN(want) {
			reftest.Near(t, r["example"]+" published", float64(point), want, 3e-3)
		}
		if want := r.Num(t, "safety_stock_published"); !math.IsNaN(want) {
			reftest.Near(t, r["example"]+" published safety stock", float64(safety), want, 6e-3)
		}
	}
}

// normalRunOut is when gas is used up by use whose sum over t days is normal with mean d·t and variance σ²·t, in
// draws at even probabilities: gas = d·t + z·σ·√t, solved for √t.
func normalRunOut(gas unit.Grams, d Demand, n int) runout.Distribution {
	use, sd := float64(d.Use), float64(d.UseSD)
	draws := make([]unit.Days, n)
	for i := range draws {
		z := distuv.UnitNormal.Quantile((float64(i) + 0.5) / float64(n))
		root := (-z*sd + math.Sqrt(z*z*sd*sd+4*use*float64(gas))) / (2 * use)
		draws[i] = unit.Days(root * root)
	}
	return runout.FromDraws(draws)
}

// normalLead is a lead time of whole days, as near to a normal one as that allows.
func normalLead(mean, sd float64) Wait {
	if sd == 0 {
		l := Wait{make([]float64, int(mean)+1)}
		l.share[int(mean)] = 1
		return l
	}
	law := distuv.Normal{Mu: mean, Sigma: sd}
	l := Wait{make([]float64, int(mean+8*sd)+1)}
	for d := range l.share {
		l.share[d] = law.CDF(float64(d)+0.5) - law.CDF(float64(d)-0.5)
	}
	return l
}

// The planner, which knows nothing of normal laws, books at the textbooks' reorder point when demand and lead time are
// normal. A period is stretched to 64 days, so that whole days do not matter; 1 % for that and for the finite
// number of draws, and 2 % where both vary: then the use over the lead time is a mixture that is skewed, which the
// textbook's formula leaves out.
func TestPlanAgreesWithReorderPoint(t *testing.T) {
	const stretch, draws = 64, 400
	for _, r := range reftest.Rows(t, "reorder_point_examples") {
		d, risk := example(t, r)
		slow := Demand{Use: d.Use / stretch, UseSD: d.UseSD / 8, Lead: d.Lead * stretch, LeadSD: d.LeadSD * stretch}
		p := Policy{Risk: risk, Lead: normalLead(float64(slow.Lead), float64(slow.LeadSD))}
		// Overdue below the reorder point, not above: bisect.
		low, high := unit.Grams(0), unit.Grams(10*float64(d.Use)*float64(d.Lead))
		for high-low > 1e-3*high {
			gas := (low + high) / 2
			if planned(t, p, monday, normalRunOut(gas, slow, draws)).Overdue {
				low = gas
			} else {
				high = gas
			}
		}
		tolerance := 0.01
		if d.UseSD > 0 && d.LeadSD > 0 {
			tolerance = 0.02
		}
		reftest.Near(t, r["example"], float64(high), r.Num(t, "reorder_point_with_exact_z"), tolerance)
	}
}
