// Package kalman is the linear-Gaussian filter for one weighed amount: a level and its rate of change, seen through
// noise at irregular times.
//
// The model, with time t in days and dt between two readings:
//
//	level' = level + rate·dt + ξ    (ξ, ζ) ~ N(0, Q(dt))
//	rate'  = rate + ζ               Q(dt) = [[ql·dt + qr·dt³/3, qr·dt²/2], [qr·dt²/2, qr·dt]]
//	y      = level + ε              ε ~ N(0, r)
//
// It is what two white noises in continuous time make of level and rate, so that predicting over a and then over b is
// predicting over a+b. With the rate known to be 0 and qr = 0 it is the local level model. Filter, likelihood and
// smoother are those of Durbin & Koopman, Time Series Analysis by State Space Methods (2nd ed. 2012), chapter 4.
//
// The household's own estimate (package estimate) is a mixture of larger filters; this one is the yardstick beside which
// it stands, the same model that general statistics libraries have, and quick enough to go over years of readings.
// Nothing here allocates.
package kalman

import "math"

// log2Pi is ln 2π.
const log2Pi = 1.8378770664093454836

// Model holds the variances, none of them negative.
type Model struct {
	Noise float64 // r, of a reading, g²
	Level float64 // ql, of the level per day, g²/day
	Rate  float64 // qr, of the rate per day, (g/day)²/day
}

// State is what is known of level (g) and rate (g/day): means and covariance.
type State struct {
	Level, Rate     float64
	VarL, Cov, VarR float64
}

// Predict is the state dt days later, dt ≥ 0.
func (m Model) Predict(s State, dt float64) State {
	q := m.Rate * dt
	a := s.Cov + dt*s.VarR // covariance of the moved level and the rate
	return State{
		Level: s.Level + dt*s.Rate,
		Rate:  s.Rate,
		VarL:  s.VarL + dt*(s.Cov+a) + m.Level*dt + q*dt*dt/3,
		Cov:   a + q*dt/2,
		VarR:  s.VarR + q,
	}
}

// Innovation is what a reading said beyond the prediction.
type Innovation struct {
	V, F float64 // difference, and its variance: VarL + Noise
}

// LogLik is the logarithm of the density of the reading.
func (i Innovation) LogLik() float64 { return -0.5 * (log2Pi + math.Log(i.F) + i.V*i.V/i.F) }

// Update is the state after reading y. Neither the state nor the reading may be exact at once: VarL + Noise > 0.
func (m Model) Update(s State, y float64) (State, Innovation) {
	v, f := y-s.Level, s.VarL+m.Noise
	kl, kr := s.VarL/f, s.Cov/f
	return State{
		Level: s.Level + kl*v,
		Rate:  s.Rate + kr*v,
		VarL:  kl * m.Noise, // VarL - VarL²/F without the cancellation
		Cov:   kr * m.Noise,
		VarR:  s.VarR - kr*s.Cov,
	}, Innovation{v, f}
}

// Step is one reading on the way: what was expected, what it said and what is known after it. A missing reading has the
// zero Innovation and leaves the prediction as it is.
type Step struct {
	Predicted, Filtered State
	Innovation
	Seen bool
}

// Next predicts over dt and takes y; NaN is a reading that is missing.
func (m Model) Next(s State, dt, y float64) Step {
	p := m.Predict(s, dt)
	if y != y {
		return Step{Predicted: p, Filtered: p}
	}
	f, i := m.Update(p, y)
	return Step{p, f, i, true}
}

// Filter goes over the readings ys (NaN: missing) at rising times ts, in days, and returns the state after the last
// one and the log-likelihood. start is what is known at ts[0] before its reading. It panics if the lengths differ.
func (m Model) Filter(start State, ts, ys []float64) (s State, loglik float64) {
	if len(ts) != len(ys) {
		panic("kalman: times and readings differ in number")
	}
	s = start
	sum, det, n := 0.0, 1.0, 0
	for i, y := range ys {
		if i > 0 {
			s = m.Predict(s, ts[i]-ts[i-1])
		}
		if y != y {
			continue
		}
		v, f := y-s.Level, s.VarL+m.Noise
		w := 1 / f
		kl, kr := s.VarL*w, s.Cov*w
		s.Level, s.Rate = s.Level+kl*v, s.Rate+kr*v
		s.VarR -= kr * s.Cov
		s.VarL, s.Cov = kl*m.Noise, kr*m.Noise
		sum += v * v * w
		n++
		// the logarithm of a product costs one logarithm; it is taken before the product leaves the range of a float64
		if det *= f; !(det > 1e-100 && det < 1e100) {
			sum += math.Log(det)
			det = 1
		}
	}
	return s, -0.5 * (float64(n)*log2Pi + math.Log(det) + sum)
}
