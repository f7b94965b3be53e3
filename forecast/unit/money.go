package unit

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"golang.org/x/text/currency"
)

// Money is an amount in one currency of ISO 4217, in whole minor units. The zero value is no money in no currency
// and adds to any.
type Money struct {
	minor int64
	unit  currency.Unit
}

// most keeps sums inside int64 by far: 10^15 minor units.
const most = 1e15

// NewMoney makes an amount of whole minor units, such as cents.
func NewMoney(minor int64, code string) (Money, error) {
	u, err := currency.ParseISO(code)
	if err != nil || len(code) != 3 {
		return Money{}, fmt.Errorf("currency %q: want three letters of ISO 4217, such as EUR", code)
	}
	if minor > most || minor < -most {
		return Money{}, fmt.Errorf("amount of %d minor units: too large", minor)
	}
	return Money{minor, u}, nil
}

// ParseMoney makes an amount from a decimal number such as "42", "42.5" or "42,50", without thousands separators. More
// decimals than the currency has are an error, not rounded.
func ParseMoney(amount, code string) (Money, error) {
	zero, err := NewMoney(0, code)
	if err != nil {
		return Money{}, err
	}
	scale := zero.Decimals()
	whole, part, _ := strings.Cut(strings.ReplaceAll(strings.TrimSpace(amount), ",", "."), ".")
	digits := strings.TrimPrefix(whole, "-") + part
	if digits == "" || strings.Trim(digits, "0123456789") != "" || strings.TrimPrefix(whole, "-") == "" {
		return Money{}, fmt.Errorf("amount %q: want a number such as 42 or 42.50", amount)
	}
	if len(part) > scale {
		return Money{}, fmt.Errorf("amount %q: %s has %d decimals", amount, code, scale)
	}
	minor, err := strconv.ParseInt(whole+part+strings.Repeat("0", scale-len(part)), 10, 64)
	if err != nil {
		return Money{}, fmt.Errorf("amount %q: too large", amount)
	}
	return NewMoney(minor, code)
}

// Decimals is how many the currency has (ISO 4217, minor units).
func (m Money) Decimals() int {
	if !m.Known() {
		return 0
	}
	scale, _ := currency.Standard.Rounding(m.unit)
	return scale
}

// Known reports whether m has a currency.
func (m Money) Known() bool { return m.unit != currency.Unit{} }

// Minor is the amount in minor units.
func (m Money) Minor() int64 { return m.minor }

// Amount is the amount as a number, which floating point may not hold exactly.
func (m Money) Amount() float64 { return float64(m.minor) / math.Pow10(m.Decimals()) }

// Code is the currency's code, empty for the zero value.
func (m Money) Code() string {
	if !m.Known() {
		return ""
	}
	return m.unit.String()
}

// Decimal is the amount as a decimal number with all the currency's decimals, such as 42.50.
func (m Money) Decimal() string {
	scale := m.Decimals()
	sign, minor := "", m.minor
	if minor < 0 {
		sign, minor = "-", -minor
	}
	s := fmt.Sprintf("%0*d", scale+1, minor)
	if scale == 0 {
		return sign + s
	}
	return sign + s[:len(s)-scale] + "." + s[len(s)-scale:]
}

// String is the amount with its currency, such as "42.50 EUR".
func (m Money) String() string { return strings.TrimSpace(m.Decimal() + " " + m.Code()) }

// Add is m + o. It is an error when they differ in currency.
func (m Money) Add(o Money) (Money, error) {
	switch {
	case !m.Known():
		m.unit = o.unit
	case o.Known() && m.unit != o.unit:
		return Money{}, fmt.Errorf("%v and %v: different currencies do not add up", m, o)
	}
	m.minor += o.minor
	if m.minor > most || m.minor < -most {
		return Money{}, errors.New("sum of money: too large")
	}
	return m, nil
}

// Neg is -m.
func (m Money) Neg() Money { return Money{-m.minor, m.unit} }

// With is another amount in m's currency, to the nearest minor unit, halves away from zero, held to the largest amount.
func (m Money) With(minor float64) Money {
	if math.IsNaN(minor) {
		minor = 0
	}
	return Money{int64(min(max(math.Round(minor), -most), most)), m.unit}
}

// Times is m·x.
func (m Money) Times(x float64) Money { return m.With(float64(m.minor) * x) }
