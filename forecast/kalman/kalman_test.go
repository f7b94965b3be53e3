package kalman

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/unit/reftest"
)

// nile is the local level model of Durbin & Koopman, Time Series Analysis by State Space Methods, sect. 2.2: flow of the Nile
// at Aswan 1871-1970, variances 15099 and 1469.1, start 0 with variance 1e7. Years take the place of days.
var (
	nile      = Model{Noise: 15099, Level: 1469.1}
	nileStart = State{VarL: 1e7}
)

// column reads a column as numbers, NaN where a cell is empty.
func column(t *testing.T, rows []reftest.Row, name string) (xs []float64) {
	t.Helper()
	for _, r := range rows {
		xs = append(xs, r.Num(t, name))
	}
	return xs
}

// TestNileFilter holds every step against statsmodels 0.13.5, with which R 4.2.2 (KalmanRun, KalmanSmooth) agrees
// within 7e-12 in states. The tables have 8 digits behind the point in means and 6 in variances.
func TestNileFilter(t *testing.T) {
	rows := reftest.Rows(t, "nile_local_level_filter_smoother")
	years, flow := column(t, rows, "year"), column(t, rows, "flow_1e8_m3")
	smooth := make([]State, len(rows))
	nile.Smooth(nileStart, years, flow, smooth)
	s := nileStart
	for i, r := range rows {
		dt := 1.0
		if i == 0 {
			dt = 0
		}
		st := nile.Next(s, dt, flow[i])
		s = st.Filtered
		check := func(what, name string, got, tol float64) {
			t.Helper()
			reftest.Within(t, what+" "+r["year"], got, r.Num(t, name), tol)
		}
		check("predicted level", "predicted_level_a_t", st.Predicted.Level, 1e-7)
		check("predicted variance", "predicted_var_P_t", st.Predicted.VarL, 2e-6)
		check("innovation", "innovation_v_t", st.V, 1e-7)
		check("innovation variance", "innovation_var_F_t", st.F, 2e-6)
		check("gain", "kalman_gain_K_t", st.Predicted.VarL/st.F, 1e-9)
		check("filtered level", "filtered_level", s.Level, 1e-7)
		check("filtered variance", "filtered_var", s.VarL, 2e-6)
		check("smoothed level", "smoothed_level", smooth[i].Level, 1e-7)
		check("smoothed variance", "smoothed_var", smooth[i].VarL, 2e-6)
		check("log-likelihood", "loglik_term", st.LogLik(), 1e-9)
	}
}

// TestNileLikelihood: the sum is -641.585578459 (statsmodels 0.13.5; -641.5856 also printed by R's KFAS), without the
// first term -632.544212278 (also in the tests of a public Julia library). In the long run the predicted variance is
// 5501.2579 and the gain 0.267048 (computed), and the forecast of 1971 is 798.37029261 with variance 5501.25794181
// (statsmodels).
func TestNileLikelihood(t *testing.T) {
	rows := reftest.Rows(t, "nile_annual_flow")
	years, flow := column(t, rows, "year"), column(t, rows, "flow_1e8_m3")
	last, ll := nile.Filter(nileStart, years, flow)
	reftest.Within(t, "log-likelihood", ll, -641.585578459, 1e-8)
	_, first := nile.Update(nileStart, flow[0])
	reftest.Within(t, "without the first term", ll-first.LogLik(), -632.544212278, 1e-8)
	next := nile.Predict(last, 1)
	reftest.Within(t, "forecast of 1971", next.Level, 798.37029261, 1e-7)
	reftest.Within(t, "its variance", next.VarL, 5501.25794181, 1e-7)
	reftest.Within(t, "steady gain", next.VarL/(next.VarL+nile.Noise), 0.267048, 1e-6)
}

// TestNileMissing: observations 21-40 and 61-80 missing, as in the figure of Durbin & Koopman (sect. 2.7); statsmodels
// 0.13.5, R agrees within 5e-12; log-likelihood -389.6269775.
func TestNileMissing(t *testing.T) {
	rows := reftest.Rows(t, "nile_local_level_missing")
	years, flow := column(t, rows, "year"), column(t, rows, "flow_1e8_m3_or_empty")
	missing := 0
	for _, y := range flow {
		if math.IsNaN(y) {
			missing++
		}
	}
	if missing != 40 {
		t.Fatalf("%d missing observations, want 40", missing)
	}
	smooth := make([]State, len(rows))
	nile.Smooth(nileStart, years, flow, smooth)
	s := nileStart
	for i, r := range rows {
		st := nile.Next(s, math.Min(float64(i), 1), flow[i])
		s = st.Filtered
		reftest.Within(t, "predicted level "+r["year"], st.Predicted.Level, r.Num(t, "predicted_level"), 1e-7)
		reftest.Within(t, "predicted variance "+r["year"], st.Predicted.VarL, r.Num(t, "predicted_var"), 2e-6)
		reftest.Within(t, "filtered level "+r["year"], s.Level, r.Num(t, "filtered_level"), 1e-7)
		reftest.Within(t, "filtered variance "+r["year"], s.VarL, r.Num(t, "filtered_var"), 2e-6)
		reftest.Within(t, "smoothed level "+r["year"], smooth[i].Level, r.Num(t, "smoothed_level"), 1e-7)
		reftest.Within(t, "smoothed variance "+r["year"], smooth[i].VarL, r.Num(t, "smoothed_var"), 2e-6)
	}
	_, ll := nile.Filter(nileStart, years, flow)
	reftest.Within(t, "log-likelihood", ll, -389.6269775, 5e-7)
}

// TestIrregularTrend: 16 made-up weighings at irregular times, three cases of noise; statsmodels' KalmanSmoother with
// time-varying matrices, and a plain NumPy filter gave the same log-likelihoods. Ten digits are printed.
func TestIrregularTrend(t *testing.T) {
	total := map[string]float64{"A": -56.27042923, "B": -61.99145597, "C": -54.72040155}
	cases := map[string][]reftest.Row{}
	for _, r := range reftest.Rows(t, "irregular_local_linear_trend") {
		cases[r["case"]] = append(cases[r["case"]], r)
	}
	if len(cases) != len(total) {
		t.Fatalf("%d cases, want %d", len(cases), len(total))
	}
	for name, rows := range cases {
		t.Run(name, func(t *testing.T) { irregular(t, rows, total[name]) })
	}
}

func irregular(t *testing.T, rows []reftest.Row, total float64) {
	m := Model{Noise: rows[0].Num(t, "obs_var_g2"), Level: rows[0].Num(t, "level_noise_g2_per_day"), Rate: rows[0].Num(t, "rate_noise_g2_per_day3")}
	start := State{Level: 9000, Rate: -30, VarL: 1e4, VarR: 400}
	ts, ys := column(t, rows, "t_day"), column(t, rows, "mass_g")
	smooth := make([]State, len(rows))
	m.Smooth(start, ts, ys, smooth)
	const tol = 2e-8 // relative: smoothing takes differences of numbers of ten digits; plus 1e-8 for those near zero
	near := func(what string, got, want float64) {
		t.Helper()
		reftest.Within(t, what, got, want, 1e-8+tol*math.Abs(want))
	}
	state := func(what string, r reftest.Row, got State, mean, spread string) {
		t.Helper()
		near(what+" level", got.Level, r.Num(t, mean+"_level_g"))
		near(what+" rate", got.Rate, r.Num(t, mean+"_rate_g_per_day"))
		near(what+" var of level", got.VarL, r.Num(t, spread+"_var_level_g2"))
		near(what+" covariance", got.Cov, r.Num(t, spread+"_cov_level_rate"))
		near(what+" var of rate", got.VarR, r.Num(t, spread+"_var_rate"))
	}
	s, dt := start, 0.0
	for i, r := range rows {
		if i > 0 {
			dt = ts[i] - ts[i-1]
		}
		st := m.Next(s, dt, ys[i])
		s = st.Filtered
		state("predicted", r, st.Predicted, "predicted", "pred")
		state("filtered", r, s, "filtered", "filt")
		state("smoothed", r, smooth[i], "smoothed", "smooth")
		near("innovation", st.V, r.Num(t, "innovation_g"))
		near("its variance", st.F, r.Num(t, "innovation_var_g2"))
		near("log-likelihood", st.LogLik(), r.Num(t, "loglik_term"))
	}
	_, ll := m.Filter(start, ts, ys)
	reftest.Within(t, "log-likelihood", ll, total, 1e-8)
}

// TestComposes: predicting over a and then b is predicting over a+b, covariances stay symmetric and non-negative, a
// noisier scale never narrows what is known, and Filter is the steps one by one.
func TestComposes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pos := rapid.Float64Range(0, 50)
		m := Model{Noise: 0.1 + pos.Draw(t, "noise"), Level: pos.Draw(t, "level"), Rate: pos.Draw(t, "rate")}
		s := State{Level: 9000, Rate: -30, VarL: 1 + pos.Draw(t, "var level"), VarR: pos.Draw(t, "var rate")}
		a, b := pos.Draw(t, "a"), pos.Draw(t, "b")
		whole, parts := m.Predict(s, a+b), m.Predict(m.Predict(s, a), b)
		reftest.Near(t, "level", parts.Level, whole.Level, 1e-9)
		reftest.Near(t, "variance of level", parts.VarL, whole.VarL, 1e-9)
		reftest.Near(t, "covariance", parts.Cov, whole.Cov, 1e-9)
		reftest.Near(t, "variance of rate", parts.VarR, whole.VarR, 1e-9)
		noisier := m
		noisier.Noise += pos.Draw(t, "more noise")
		f, _ := m.Update(whole, 8000)
		g, _ := noisier.Update(whole, 8000)
		if det := f.VarL*f.VarR - f.Cov*f.Cov; f.VarL < 0 || f.VarR < 0 || det < -1e-6*f.VarL*f.VarR {
			t.Errorf("no covariance: %+v", f)
		}
		if g.VarL < f.VarL*(1-1e-12) || g.VarR < f.VarR-1e-9*whole.VarR {
			t.Errorf("a noisier scale knows more: %+v than %+v", g, f)
		}
		ts, ys := []float64{0, a, a + b}, []float64{9000, math.NaN(), 8000}
		end, ll := m.Filter(s, ts, ys)
		one, i := m.Update(s, 9000)
		two, j := m.Update(m.Predict(m.Predict(one, a), b), 8000)
		reftest.Near(t, "last level", end.Level, two.Level, 1e-9)
		reftest.Near(t, "log-likelihood", ll, i.LogLik()+j.LogLik(), 1e-9)
	})
}

// TestLargeAndSmall: the running product of variances leaves the range of a float64 after 50 readings of variance 1e±20.
func TestLargeAndSmall(t *testing.T) {
	ts, ys := make([]float64, 400), make([]float64, 400)
	for i := range ts {
		ts[i] = float64(i)
	}
	for _, scale := range []float64{1e-20, 1, 1e20} {
		m := Model{Noise: scale, Level: scale, Rate: scale}
		_, ll := m.Filter(State{VarL: scale, VarR: scale}, ts, ys)
		_, unit := Model{1, 1, 1}.Filter(State{VarL: 1, VarR: 1}, ts, ys)
		reftest.Near(t, "log-likelihood in other units", ll, unit-200*math.Log(scale), 1e-12)
	}
}
