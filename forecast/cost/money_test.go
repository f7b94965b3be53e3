package cost

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func money(t testing.TB, amount, code string) Money {
	t.Helper()
	m, err := Parse(amount, code)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Minor units of ISO 4217: two for EUR, none for JPY, three for KWD.
func TestParse(t *testing.T) {
	rows := []struct {
		amount, code string
		minor        int64
		prints       string
	}{
		{"42", "EUR", 4200, "42.00 EUR"},
		{"42.5", "EUR", 4250, "42.50 EUR"},
		{"42,50", "EUR", 4250, "42.50 EUR"},
		{" 0.05 ", "USD", 5, "0.05 USD"},
		{"-3.10", "GBP", -310, "-3.10 GBP"},
		{"-0.01", "GBP", -1, "-0.01 GBP"},
		{"5000", "JPY", 5000, "5000 JPY"},
		{"12.345", "KWD", 12345, "12.345 KWD"},
		{"42", "eur", 4200, "42.00 EUR"},
	}
	for _, r := range rows {
		m, err := Parse(r.amount, r.code)
		if err != nil || m.Minor() != r.minor || m.String() != r.prints {
			t.Errorf("%q %s: %v (%d), %v", r.amount, r.code, m, m.Minor(), err)
		}
	}
	for _, r := range []struct{ amount, code, says string }{
		{"42.505", "EUR", "EUR has 2 decimals"},
		{"1.5", "JPY", "JPY has 0 decimals"},
		{"1.234,50", "EUR", "want a number"},
		{"", "EUR", "want a number"},
		{".5", "EUR", "want a number"},
		{"12e3", "EUR", "want a number"},
		{"--1", "EUR", "want a number"},
		{"NaN", "EUR", "want a number"},
		{"99999999999999999999", "EUR", "too large"},
		{"42", "EURO", "three letters of ISO 4217"},
		{"42", "QQQ", "three letters of ISO 4217"},
		{"42", "", "three letters of ISO 4217"},
	} {
		if m, err := Parse(r.amount, r.code); err == nil || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%q %q: %v, %v; want %q", r.amount, r.code, m, err, r.says)
		}
	}
}

func TestParsePrintsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		code := rapid.SampledFrom([]string{"EUR", "USD", "JPY", "KWD", "CHF"}).Draw(t, "code")
		m, err := Minor(rapid.Int64Range(-most, most).Draw(t, "minor"), code)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := Parse(m.Decimal(), m.Code()); err != nil || back != m {
			t.Errorf("%v came back as %v, %v", m, back, err)
		}
	})
}

// Shares add up to the last minor unit, none is off by more than one from its exact part, and more weight never
// gets less.
func TestSplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, _ := Minor(rapid.Int64Range(-1e9, 1e9).Draw(t, "minor"), "EUR")
		weights := rapid.SliceOfN(rapid.Float64Range(0, 50), 1, 9).Draw(t, "weights")
		total, sum := 0.0, int64(0)
		for _, w := range weights {
			total += w
		}
		shares := m.Split(weights)
		for i, s := range shares {
			sum += s.Minor()
			part := weights[i] / total
			if total == 0 {
				part = 1 / float64(len(weights))
			}
			if exact := float64(m.Minor()) * part; math.Abs(float64(s.Minor())-exact) > 1+1e-6 {
				t.Errorf("share %d is %d, exactly %g", i, s.Minor(), exact)
			}
		}
		if sum != m.Minor() {
			t.Errorf("%v was split into %v", m, shares)
		}
	})
	ten := money(t, "10", "EUR").Split([]float64{1, 1, 1})
	if ten[0].Minor() != 334 || ten[1].Minor() != 333 || ten[2].Minor() != 333 {
		t.Errorf("10 EUR by three: %v", ten)
	}
	inf := math.Inf(1)
	odd := money(t, "10", "EUR").Split([]float64{1e308, 1e308, -1, inf, math.NaN()})
	if odd[0].Minor() != 500 || odd[1].Minor() != 500 {
		t.Errorf("huge and impossible weights: %v", odd)
	}
	if got := money(t, "10", "EUR").Split(nil); len(got) != 0 {
		t.Errorf("for nobody: %v", got)
	}
}

func TestAdd(t *testing.T) {
	euro, dollar := money(t, "1", "EUR"), money(t, "1", "USD")
	if sum, err := euro.Add(Money{}); err != nil || sum != euro {
		t.Errorf("%v, %v", sum, err)
	}
	if sum, err := (Money{}).Add(euro); err != nil || sum != euro {
		t.Errorf("%v, %v", sum, err)
	}
	if sum, err := euro.Add(dollar); err == nil {
		t.Errorf("mixed: %v", sum)
	}
	large, _ := Minor(most, "EUR")
	if sum, err := large.Add(large); err == nil {
		t.Errorf("too large: %v", sum)
	}
	if s := (Money{}).String(); s != "0" {
		t.Errorf("no money prints as %q", s)
	}
}
