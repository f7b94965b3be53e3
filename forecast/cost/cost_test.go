package cost

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/reftest"
)

var spring = time.Date(2027, 3, 1, 0, 0, 0, 0, time.UTC)

func perGram(t testing.TB, fills ...Fill) Rate {
	t.Helper()
	r, err := PerGram(fills)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Common practice, no source: a litre costs about 18 cents from a large cylinder and about 38 cents from small exchange
// canisters. The prices of the fills are invented, of the order that is usual: 10 kg for 200, a canister of 410 g for
// 17; the drink takes 9 g per litre.
func TestFactsOfTheTrade(t *testing.T) {
	large := perGram(t, Fill{spring, money(t, "200", "USD"), unit.Kilograms(10)})
	small := perGram(t, Fill{spring, money(t, "17", "USD"), 410})
	reftest.Within(t, "large cylinder, cents per litre", large.PerLitre(9).Minor(), 18, 1)
	reftest.Within(t, "small canisters, cents per litre", small.PerLitre(9).Minor(), 38, 1)

	// 20 cents saved per litre, one litre a day: an outlay of 300 comes back in 1500 days.
	s, err := Compare(Comparison{
		Outlay: money(t, "300", "USD"), Alternative: Each(money(t, "0.38", "USD")), Gas: large,
		GramsPerLitre: Uncertain{9, 0}, Use: Uncertain{9, 0},
	})
	if err != nil {
		t.Fatal(err)
	}
	reftest.Near(t, "saved per litre", s.PerLitre.Minor(), 20, 1e-12)
	reftest.Near(t, "payback", float64(s.Payback.Quantile(0.5)), 1500, 1e-12)
}

func TestPerGram(t *testing.T) {
	a, b := Fill{spring, money(t, "42", "EUR"), 10000}, Fill{spring.AddDate(1, 0, 0), money(t, "48", "EUR"), 10000}
	reftest.Near(t, "one fill", perGram(t, a).Minor(), 0.42, 1e-12)
	reftest.Near(t, "two fills", perGram(t, a, b).Minor(), 0.45, 1e-12)
	if r := perGram(t); r.Known() {
		t.Errorf("no fill: %v", r)
	}
	if got := perGram(t, a).Of(340); got.String() != "1.43 EUR" {
		t.Errorf("340 g lost are worth %v", got)
	}
	reftest.Near(t, "a litre that takes 7 g", perGram(t, a).PerLitre(7).Minor(), 2.94, 1e-12)
	if got := perGram(t, a).Of(unit.Grams(math.NaN())); got.Minor() != 0 {
		t.Errorf("nothing known is worth %v", got)
	}
	for says, bad := range map[string]Fill{
		"fill of 2027-03-01: price 0":        {At: spring, Net: 1},
		"price -1.00 EUR":                    {At: spring, Price: money(t, "-1", "EUR"), Net: 1},
		"net gas 0 g":                        {At: spring, Price: money(t, "1", "EUR")},
		"different currencies do not add up": {At: spring, Price: money(t, "1", "CHF"), Net: 1},
	} {
		if r, err := PerGram([]Fill{a, bad}); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%+v: %v, %v; want %q", bad, r, err, says)
		}
	}
}

// The mean of an uncertain use is kept, and the payback spreads about as 1/use does: to first order SD/mean.
func TestPaybackSpread(t *testing.T) {
	c := Comparison{
		Outlay: money(t, "300", "EUR"), Alternative: Each(money(t, "0.38", "EUR")),
		Gas:           perGram(t, Fill{spring, money(t, "200", "EUR"), 10000}),
		GramsPerLitre: Uncertain{9, 0}, Use: Uncertain{9, 0.9},
	}
	s, err := Compare(c)
	if err != nil {
		t.Fatal(err)
	}
	// Log-normal: T has median 1500·√(1+0.01) and σ = √ln(1.01); z of 90 and 99 % are 1.2816 and 2.3263 (SciPy).
	median, sigma := 1500*math.Sqrt(1.01), math.Sqrt(math.Log(1.01))
	reftest.Near(t, "median", float64(s.Payback.Quantile(0.5)), median, 1e-3)
	reftest.Near(t, "p90", float64(s.Payback.Quantile(0.9)), median*math.Exp(1.281551566*sigma), 1e-2)
	reftest.Near(t, "p99", float64(s.Payback.Quantile(0.99)), median*math.Exp(2.326347874*sigma), 2e-2)
	reftest.Near(t, "p10", float64(s.Payback.Quantile(0.1)), median*math.Exp(-1.281551566*sigma), 1e-2)
}

func TestCompareCases(t *testing.T) {
	base := Comparison{
		Outlay: money(t, "300", "EUR"), Alternative: Each(money(t, "0.38", "EUR")),
		Gas:           perGram(t, Fill{spring, money(t, "200", "EUR"), 10000}),
		GramsPerLitre: Uncertain{9, 1}, Use: Uncertain{9, 2},
	}
	done := base
	done.Made = 2000
	s, err := Compare(done)
	if err != nil || s.SoFar.String() != "400.00 EUR" || s.Open.Minor() != 0 || s.Payback.Quantile(0.9) != 0 {
		t.Errorf("earned back: %+v, %v", s, err)
	}
	dear := base
	dear.Alternative = Each(money(t, "0.05", "EUR"))
	if s, err = Compare(dear); err != nil || !math.IsInf(float64(s.Payback.Quantile(0.5)), 1) || s.PerLitre.Minor() >= 0 {
		t.Errorf("never: %+v, %v", s, err)
	}
	idle := base
	idle.Use = Uncertain{}
	if s, err = Compare(idle); err != nil || s.Payback.Known() {
		t.Errorf("use unknown: %+v, %v", s, err)
	}
	for says, wrong := range map[string]func(*Comparison){
		"must both be known":                 func(c *Comparison) { c.Gas = Rate{} },
		"gas per litre of drink 0 g":         func(c *Comparison) { c.GramsPerLitre = Uncertain{} },
		"different currencies do not add up": func(c *Comparison) { c.Alternative = Each(money(t, "1", "USD")) },
		"outlay: ":                           func(c *Comparison) { c.Outlay = money(t, "300", "USD") },
	} {
		bad := base
		wrong(&bad)
		if s, err := Compare(bad); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%+v: %+v, %v; want %q", bad, s, err, says)
		}
	}
}

// A dearer alternative, cheaper gas or a smaller outlay never pays back later.
func TestCompareIsMonotone(t *testing.T) {
	euro := func(t *rapid.T, name string, low, high int64) unit.Money {
		m, err := unit.NewMoney(rapid.Int64Range(low, high).Draw(t, name), "EUR")
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	rapid.Check(t, func(t *rapid.T) {
		gas, err := PerGram([]Fill{{spring, euro(t, "fill", 0, 50000), 10000}})
		if err != nil {
			t.Fatal(err)
		}
		c := Comparison{
			Outlay: euro(t, "outlay", 0, 100000), Alternative: Each(euro(t, "litre", 1, 200)), Gas: gas,
			GramsPerLitre: Uncertain{rapid.Float64Range(1, 15).Draw(t, "g/L"), rapid.Float64Range(0, 3).Draw(t, "sd")},
			Use:           Uncertain{rapid.Float64Range(0.1, 200).Draw(t, "g/d"), rapid.Float64Range(0, 50).Draw(t, "sd u")},
		}
		better := c
		better.Outlay = c.Outlay.Times(0.9)
		better.Alternative.minor *= 1.1
		better.Gas.minor *= 0.9
		a, errA := Compare(c)
		b, errB := Compare(better)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		for _, p := range []float64{0.1, 0.5, 0.9} {
			if b.Payback.Quantile(p) > a.Payback.Quantile(p)*(1+1e-9) {
				t.Errorf("p%g: %v days instead of %v", 100*p, b.Payback.Quantile(p), a.Payback.Quantile(p))
			}
		}
	})
}

func money(t testing.TB, amount, code string) unit.Money {
	t.Helper()
	m, err := unit.ParseMoney(amount, code)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
