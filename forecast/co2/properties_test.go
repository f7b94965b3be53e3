package co2

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
)

var nan = math.NaN()

// The analytic derivatives against central differences, everywhere in the fluid and close around the
// critical density, where the terms 40 to 42 have their cusp.
func TestDerivatives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newIsotherm(rapid.Float64Range(217, 1000).Draw(t, "K"))
		delta := rapid.OneOf(rapid.Float64Range(0.01, 2.6), rapid.Float64Range(0.97, 1.03)).Draw(t, "delta")
		const h = 1e-5
		if math.Abs(delta-1) < 10*h {
			t.Skip("the difference would straddle the cusp")
		}
		lo, mid, hi := s.at(delta-h), s.at(delta), s.at(delta+h)
		if d := (hi.phi - lo.phi) / (2 * h); math.Abs(d-mid.d1) > 1e-5*(1+math.Abs(mid.d1)) {
			t.Errorf("first: %g, by differences %g", mid.d1, d)
		}
		if d := (hi.d1 - lo.d1) / (2 * h); math.Abs(d-mid.d2) > 1e-3*(1+math.Abs(mid.d2)) {
			t.Errorf("second: %g, by differences %g", mid.d2, d)
		}
	})
}

// Both phases have one pressure, and every temperature up to the critical point has a solution.
func TestSaturationEverywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		gap := rapid.OneOf(rapid.Float64Range(0.002, 87.5), rapid.Float64Range(0.002, 0.5)).Draw(t, "below critical")
		at := CriticalTemperature - unit.Celsius(gap)
		sat, err := Saturation(at)
		if err != nil {
			t.Fatal(err)
		}
		s := newIsotherm(at.Kelvin())
		pl, _ := s.pressure(float64(sat.Liquid))
		if math.Abs(pl/float64(sat.P)-1) > 1e-8 {
			t.Errorf("pressure of the liquid %.12g, of the vapour %.12g", pl, float64(sat.P))
		}
		if !(sat.Liquid > CriticalDensity && sat.Vapour < CriticalDensity) {
			t.Errorf("densities on the wrong side: %+v", sat)
		}
	})
}

// Saturation rises with temperature in pressure and vapour density and falls in liquid density, through the seam
// to the explicit equations at the critical point as well (where they differ by up to 4 % in density).
func TestSaturationIsMonotone(t *testing.T) {
	last, _ := Saturation(TripleTemperature)
	for at := TripleTemperature + 0.05; at < CriticalTemperature-0.003; at += 0.05 {
		s, err := Saturation(at)
		if err != nil {
			t.Fatal(err)
		}
		if !(s.P > last.P && s.Vapour > last.Vapour && s.Liquid < last.Liquid) {
			t.Fatalf("%v °C: %+v after %+v", at, s, last)
		}
		last = s
	}
}

// Density of the gas, then pressure of that density, is the identity.
func TestVapourDensityInvertsPressure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := unit.Celsius(rapid.Float64Range(-56, 200).Draw(t, "C"))
		top := 300e5
		if at < CriticalTemperature {
			s, err := Saturation(at)
			if err != nil {
				t.Fatal(err)
			}
			top = float64(s.P)
		}
		p := unit.Pascals(top * rapid.Float64Range(1e-4, 1).Draw(t, "share"))
		rho, err := VapourDensity(p, at)
		if err != nil {
			t.Fatal(err)
		}
		back, _, err := State(rho, at)
		if err != nil || math.Abs(float64(back/p)-1) > 1e-9 {
			t.Errorf("%g Pa -> %g g/L -> %g Pa, %v", float64(p), float64(rho), float64(back), err)
		}
	})
}

// More heel is left at a higher minimum pressure; more usable gas is never negative; nothing is NaN, whatever comes in.
func TestCylinderIsTotal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := unit.Celsius(rapid.Float64().Draw(t, "C"))
		p := unit.Pascals(rapid.Float64Range(-1e5, 9e8).Draw(t, "Pa"))
		capacity := unit.Litres(rapid.Float64Range(0.1, 100).Draw(t, "L"))
		heel, dry := Heel(p, at, capacity), LiquidDry(at, capacity)
		for _, m := range []unit.Grams{heel, dry} {
			if math.IsNaN(float64(m)) || math.IsInf(float64(m), 0) || m < 0 {
				t.Fatalf("heel %v, liquid-dry %v", heel, dry)
			}
		}
		if at < CriticalTemperature && heel > dry*(1+1e-9) {
			t.Errorf("heel %v above liquid-dry %v", heel, dry)
		}
		if more := Heel(p*1.1, at, capacity); more < heel {
			t.Errorf("heel falls from %v to %v with the minimum pressure", heel, more)
		}
	})
}

// ln(f/p) is the integral of (Z - 1)/p from 0 to p, whatever the equation of state (thermodynamics): Simpson's rule.
func TestFugacity(t *testing.T) {
	const n = 200
	for _, at := range []unit.Celsius{0, 5, 20} {
		for _, top := range []float64{1, 5, 20} {
			sum := 0.0
			for i := 1; i <= n; i++ { // (Z-1)/p tends to a constant at 0: take it at a small pressure
				p := unit.Bar(top * float64(i) / n)
				rho, err := VapourDensity(p, at)
				if err != nil {
					t.Fatal(err)
				}
				z := float64(p) / (float64(rho) * GasConstant * at.Kelvin())
				weight := 2.0
				if i%2 == 1 {
					weight = 4
				}
				if i == n {
					weight = 1
				}
				sum += weight * (z - 1) / p.Bar()
				if i == 1 {
					sum += (z - 1) / p.Bar()
				}
			}
			want := math.Exp(sum * top / n / 3)
			f, err := Fugacity(unit.Bar(top), at)
			if err != nil || math.Abs(f.Bar()/top/want-1) > 1e-6 {
				t.Errorf("%v °C %v bar: coefficient %.8f, integral %.8f, %v", at, top, f.Bar()/top, want, err)
			}
		}
	}
	if f, err := Fugacity(unit.Bar(60), 20); err == nil {
		t.Errorf("fugacity of liquid: %v", f)
	}
}

func TestOutOfRange(t *testing.T) {
	inf := math.Inf(1)
	for _, at := range []unit.Celsius{-60, 31, unit.Celsius(nan), unit.Celsius(inf)} {
		if s, err := Saturation(at); err == nil {
			t.Errorf("saturation at %v: %+v", at, s)
		}
	}
	for _, in := range []struct {
		rho unit.GramsPerLitre
		t   unit.Celsius
	}{{0, 20}, {-1, 20}, {unit.GramsPerLitre(nan), 20}, {unit.GramsPerLitre(inf), 20}, {100, -60}, {100, 900}, {100, unit.Celsius(nan)}, {1400, 0}, {3000, 20}} {
		if p, _, err := State(in.rho, in.t); err == nil {
			t.Errorf("pressure at %+v: %v", in, p)
		}
	}
	for _, in := range []struct {
		p unit.Pascals
		t unit.Celsius
	}{{0, 20}, {-1, 20}, {unit.Pascals(nan), 20}, {unit.Bar(58), 20}, {unit.Bar(9000), 40}, {unit.Bar(1), -70}} {
		if rho, err := VapourDensity(in.p, in.t); err == nil {
			t.Errorf("gas density at %+v: %v", in, rho)
		}
	}
	if rho, err := VapourDensity(unit.Bar(7900), 600); err != nil { // Span & Wagner's range ends at 8000 bar
		t.Errorf("gas density at 7900 bar and 600 °C: %v, %v", rho, err)
	}
	for _, in := range [][2]float64{{0, 1}, {1, 0}, {nan, 1}, {1, nan}} {
		if p, _, err := FillPressure(unit.Grams(in[0]), unit.Litres(in[1]), 20); err == nil {
			t.Errorf("fill pressure of %v: %v", in, p)
		}
	}
}

func BenchmarkSaturation(b *testing.B) {
	for i := 0; b.Loop(); i++ {
		if _, err := Saturation(unit.Celsius(i%80 - 50)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHeel(b *testing.B) {
	for b.Loop() {
		Heel(unit.Bar(5), 20, 14.7)
	}
}

func BenchmarkPressure(b *testing.B) {
	for b.Loop() {
		State(680, 50)
	}
}
