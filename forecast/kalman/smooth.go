package kalman

// Smooth writes into out what all the readings together say of each moment (fixed-interval smoothing). Arguments are
// those of Filter; out has their length and is all the memory it needs. It panics if the lengths differ.
//
// It runs the recursion of Durbin & Koopman (2012), 4.4: with L = T(I-KZ) between this reading and the next,
// r ← Z'v/F + L'r, N ← Z'Z/F + L'NL, state = a + Pr, covariance = P - PNP. No covariance is inverted, so that a rate
// known exactly (the local level) needs no case of its own.
func (m Model) Smooth(start State, ts, ys []float64, out []State) {
	if len(ts) != len(ys) || len(out) != len(ys) {
		panic("kalman: times, readings and results differ in number")
	}
	s := start
	for i, y := range ys {
		if i > 0 {
			s = m.Predict(s, ts[i]-ts[i-1])
		}
		out[i] = s // the prediction, until it is smoothed
		if y == y {
			s, _ = m.Update(s, y)
		}
	}
	var b backward
	for i := len(ys) - 1; i >= 0; i-- {
		if i < len(ys)-1 {
			b.move(ts[i+1] - ts[i])
		}
		if y := ys[i]; y == y {
			b.take(out[i], y-out[i].Level, out[i].VarL+m.Noise)
		}
		out[i] = b.apply(out[i])
	}
}

// backward holds r (l, r) and N (ll, lr, rr) of the smoother.
type backward struct{ l, r, ll, lr, rr float64 }

// move multiplies with the transition over dt: r ← T'r, N ← T'NT.
func (b *backward) move(dt float64) {
	b.r += dt * b.l
	b.rr += dt * (2*b.lr + dt*b.ll)
	b.lr += dt * b.ll
}

// take brings in a reading: with the gain K = (kl, kr), r ← (I-KZ)'r + Z'v/F, N ← (I-KZ)'N(I-KZ) + Z'Z/F.
func (b *backward) take(p State, v, f float64) {
	kl, kr := p.VarL/f, p.Cov/f
	c := 1 - kl
	b.l = c*b.l - kr*b.r + v/f
	b.ll, b.lr = c*c*b.ll-2*c*kr*b.lr+kr*kr*b.rr+1/f, c*b.lr-kr*b.rr
}

// apply makes the smoothed state of the predicted one.
func (b *backward) apply(p State) State {
	// columns of NP
	a11, a12 := b.ll*p.VarL+b.lr*p.Cov, b.ll*p.Cov+b.lr*p.VarR
	a21, a22 := b.lr*p.VarL+b.rr*p.Cov, b.lr*p.Cov+b.rr*p.VarR
	return State{
		Level: p.Level + p.VarL*b.l + p.Cov*b.r,
		Rate:  p.Rate + p.Cov*b.l + p.VarR*b.r,
		VarL:  p.VarL - p.VarL*a11 - p.Cov*a21,
		Cov:   p.Cov - p.VarL*a12 - p.Cov*a22,
		VarR:  p.VarR - p.Cov*a12 - p.VarR*a22,
	}
}
