package estimate

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"tarebell/forecast/unit/reftest"
)

// metered are the days of homes whose water or power was metered (sources: see reftest.Homes), read by it or by series.
func metered(t *testing.T, read func(*testing.T, string) [][]float64) (homes [][]float64) {
	for _, file := range []string{"water_daily.csv", "electricity_sceaux_daily.csv", "electricity_sgsc_daily.csv"} {
		homes = append(homes, read(t, file)...)
	}
	if len(homes) != 14 {
		t.Fatalf("%d homes, want 14", len(homes))
	}
	return homes
}

// median leaves out what is not a number.
func median(x []float64) float64 {
	x = slices.DeleteFunc(slices.Clone(x), math.IsNaN)
	if len(x) == 0 {
		return math.NaN()
	}
	slices.Sort(x)
	return x[len(x)/2]
}

// around is the median of the days within half of day i.
func around(daily []float64, i, half int) float64 {
	return median(daily[max(i-half, 0):min(i+half+1, len(daily))])
}

// near fails the test unless prior lies within a factor of what was measured.
func near(t *testing.T, what string, prior, measured, factor float64) {
	t.Helper()
	t.Logf("%s: prior %.3g, measured %.3g", what, prior, measured)
	if r := prior / measured; !(r < factor && r > 1/factor) {
		t.Errorf("%s: the prior is %.3g, the homes have %.3g", what, prior, measured)
	}
}

// TestWanderingOfRealHomes compares the priors of how far and how long a household's level wanders with the scatter of ln(weekly use) about its
// mean, weeks away left out, and with how its correlation falls from one week to four.
func TestWanderingOfRealHomes(t *testing.T) {
	var sd, one, four, walk []float64
	for _, home := range metered(t, series) {
		w := weeks(home)
		sd = append(sd, stat.PopStdDev(w, nil))
		half := len(w) / 2 // of a random walk over a time T the means of the halves differ by the variance T/3 times that of a day
		d := stat.Mean(w[half:], nil) - stat.Mean(w[:half], nil)
		walk = append(walk, math.Sqrt(3*d*d/float64(7*len(w))))
		one, four = append(one, stat.Correlation(w[1:], w[:len(w)-1], nil)), append(four, stat.Correlation(w[4:], w[:len(w)-4], nil))
	}
	near(t, "sd of ln(use)", lawSD, median(sd), 1.3)
	near(t, "sd in √day of what it wanders for good", wanderSD, stat.Mean(walk, nil), 1.4)
	near(t, "days its deviation lasts", lawTau, 21/math.Log(stat.Mean(one, nil)/stat.Mean(four, nil)), 1.6)
}

// TestDaysOfRealHomes compares the priors of how a day scatters and of the weekdays: each day over the median of four weeks around it, by weekday; days
// of more than three times that left out, which the Student's t of the likelihood is for.
func TestDaysOfRealHomes(t *testing.T) {
	var cv, week, rest []float64
	for _, home := range metered(t, reftest.Homes) {
		var by [7][]float64
		for i, u := range home {
			if m := around(home, i, 14); m > 0.3*median(home) && u < 3*m {
				by[i%7] = append(by[i%7], u/m)
			}
		}
		var mean, v float64
		factor := make([]float64, 7)
		for d := range by {
			factor[d] = stat.Mean(by[d], nil)
			mean += factor[d] / 7
			v += stat.PopVariance(by[d], nil) / 7
		}
		rest = append(rest, (factor[5]+factor[6])/2/(7*mean-factor[5]-factor[6])*5)
		cv, week = append(cv, math.Sqrt(v)/mean), append(week, stat.PopStdDev(factor, nil)/mean)
	}
	near(t, "scatter of a day", scatter, median(cv), 1.2)
	near(t, "most weekly home", weekSD, slices.Max(week), 1.35)
	near(t, "a day of the weekend over one of the week", weekend, stat.Mean(rest, nil), 1.06)
}

// TestAbsencesOfRealHomes compares the priors of how often and for how long nobody is there: spells of two days or more below a quarter of the median of
// three months around them. What the prior is worth comes from the spread of the homes' rates about their mean, less what chance makes of it
// (method of moments for a gamma distribution of rates).
func TestAbsencesOfRealHomes(t *testing.T) {
	var spells, days, squares, watched float64
	var rate, span []float64
	for _, home := range metered(t, series) {
		n, run := 0.0, 0
		for i := 0; i <= len(home); i++ {
			if i < len(home) && home[i] < 0.25*around(home, i, 45) {
				run++
				continue
			}
			if run >= 2 {
				n++
				days += float64(run)
				squares += float64(run * run)
			}
			run = 0
		}
		spells, watched = spells+n, watched+float64(len(home))
		rate, span = append(rate, n/float64(len(home))), append(span, float64(len(home)))
	}
	near(t, "spells a day", leave, spells/watched, 1.3)
	near(t, "days a spell lasts", stay, days/spells, 1.3)
	near(t, "days of the spell that a day away lies in", dayStay, squares/days, 1.3)
	mean, v := stat.MeanVariance(rate, nil)
	near(t, "days the prior is worth", stayDays, mean/(v-mean/stat.Mean(span, nil)), 1.6)
}

// weeks is ln of the use of whole weeks; weeks below a quarter of the median count as away and are left out.
func weeks(daily []float64) (logs []float64) {
	var use []float64
	for w := range slices.Chunk(daily, 7) {
		if len(w) == 7 {
			use = append(use, stat.Mean(w, nil))
		}
	}
	sorted := slices.Sorted(slices.Values(use))
	away := sorted[len(sorted)/2] / 4
	for _, u := range use {
		if u > away {
			logs = append(logs, math.Log(u))
		}
	}
	return logs
}
