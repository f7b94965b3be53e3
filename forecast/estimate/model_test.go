package estimate

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/unit/reftest"
)

// TestStudentAgainstGonum compares both densities with gonum's Student's t (stat/distuv) up to the constant.
func TestStudentAgainstGonum(t *testing.T) {
	for _, c := range []struct {
		nu      float64
		density func(z2, s float64) float64
	}{{12, student12}, {6, student6}} {
		for _, sigma := range []float64{0.3, 1, 250} {
			ref := distuv.StudentsT{Mu: 0, Sigma: sigma, Nu: c.nu}
			constant := ref.Prob(0) / c.density(0, sigma*sigma)
			for _, e := range []float64{0.1, 1, 3, 30, 3000} {
				got, want := constant*c.density(e*e/(sigma*sigma), sigma*sigma), ref.Prob(e)
				if math.Abs(got-want) > 1e-9*want {
					t.Errorf("ν = %v, σ = %v, e = %v: %v, want %v", c.nu, sigma, e, got, want)
				}
			}
		}
		if l := c.density(1e300, 1e12); !(l > 1e-150) {
			t.Errorf("ν = %v: a reading that is absurd has density %v, which would leave no hypothesis", c.nu, l)
		}
	}
}

// TestLevelIsThePooledLevel compares the mixture's level with that of its pooled Gaussian, blended pair by pair.
func TestLevelIsThePooledLevel(t *testing.T) {
	f := New(Options{House: 15000, NetFill: 9070, Heel: 120})
	feed(f, 600, time.Hour, 9070, 30, nil)
	g, wantAway := f.core.mix.collapse()
	wantMean, wantVar := g.level()
	mean, v, away := f.core.mix.level()
	for _, c := range [][2]float64{{mean, wantMean}, {v, wantVar}, {away, wantAway}} {
		if math.Abs(c[0]-c[1]) > 1e-9 {
			t.Errorf("level %v, %v, away %v; pooled %v, %v, %v", mean, v, away, wantMean, wantVar, wantAway)
		}
	}
}

// TestNile runs the filter's own steps over the flow of the Nile at Aswan 1871-1970 as a local level (Durbin & Koopman, Time Series Analysis by State
// Space Methods, sect. 2.2: variances 15099 and 1469.1, start 0 with variance 1e7), once with observations 21-40 and 61-80 missing (sect. 2.7). The
// offset is the level. References: statsmodels 0.13.5, R 4.2.2 agrees within 7e-12.
func TestNile(t *testing.T) {
	for _, c := range []struct{ table, flow, level, variance string }{
		{"nile_local_level_filter_smoother", "flow_1e8_m3", "filtered_level", "filtered_var"},
		{"nile_local_level_missing", "flow_1e8_m3_or_empty", "filtered_level", "filtered_var"},
	} {
		g := gauss{oo: 1e7}
		for i, r := range reftest.Rows(t, c.table) {
			if i > 0 {
				g.wander(1, 0, 0, 1469.1)
			}
			if flow := r.Num(t, c.flow); !math.IsNaN(flow) {
				g.observe(flow, 15099)
			}
			reftest.Within(t, c.level+" "+r["year"], g.o, r.Num(t, c.level), 1e-5)
			reftest.Within(t, c.variance+" "+r["year"], g.oo, r.Num(t, c.variance), 1e-3)
		}
	}
}
