package unit

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func money(t testing.TB, amount, code string) Money {
	t.Helper()
	m, err := ParseMoney(amount, code)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Minor units of ISO 4217: two for EUR, none for JPY, three for KWD.
func TestParseMoney(t *testing.T) {
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
		m, err := ParseMoney(r.amount, r.code)
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
		if m, err := ParseMoney(r.amount, r.code); err == nil || !strings.Contains(err.Error(), r.says) {
			t.Errorf("%q %q: %v, %v; want %q", r.amount, r.code, m, err, r.says)
		}
	}
}

func TestMoneyPrintsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		code := rapid.SampledFrom([]string{"EUR", "USD", "JPY", "KWD", "CHF"}).Draw(t, "code")
		m, err := NewMoney(rapid.Int64Range(-most, most).Draw(t, "minor"), code)
		if err != nil {
			t.Fatal(err)
		}
		if back, err := ParseMoney(m.Decimal(), m.Code()); err != nil || back != m {
			t.Errorf("%v came back as %v, %v", m, back, err)
		}
	})
}

func TestAddMoney(t *testing.T) {
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
	large, _ := NewMoney(most, "EUR")
	if sum, err := large.Add(large); err == nil {
		t.Errorf("too large: %v", sum)
	}
	if s := (Money{}).String(); s != "0" {
		t.Errorf("no money prints as %q", s)
	}
}

func TestMoneyInMinorUnits(t *testing.T) {
	euro := money(t, "42.50", "EUR")
	if euro.Amount() != 42.5 || euro.Decimals() != 2 || (Money{}).Decimals() != 0 || euro.Neg().Minor() != -4250 {
		t.Errorf("%v is %v with %d decimals", euro, euro.Amount(), euro.Decimals())
	}
	for x, want := range map[float64]int64{0.1: 425, -2: -8500, math.Inf(1): most, math.NaN(): 0} {
		if got := euro.Times(x); got.Minor() != want || got.Code() != "EUR" {
			t.Errorf("%v times %v is %v", euro, x, got)
		}
	}
	if got := euro.With(12.5); got.Minor() != 13 {
		t.Errorf("half a cent up is %v", got)
	}
	if m, err := NewMoney(2*most, "EUR"); err == nil {
		t.Errorf("too large: %v", m)
	}
}
