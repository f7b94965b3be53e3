// Package cost works out what the gas costs: per fill, per litre of drink, per member of the household,
// against what would be bought instead, until the outlay is earned back, and what lost gas was worth. Each filling is charged
// as it is drawn, first in, first out, in favour of who paid it.
//
// Amounts of money are whole minor units (cents) and add up to the last one. Prices per gram or litre are ratios
// and become money once, at the end.
package cost

import (
	"errors"
	"fmt"
	"math"
	"sort"
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

// Minor makes an amount of whole minor units, such as cents.
func Minor(minor int64, code string) (Money, error) {
	u, err := currency.ParseISO(code)
	if err != nil || len(code) != 3 {
		return Money{}, fmt.Errorf("currency %q: want three letters of ISO 4217, such as EUR", code)
	}
	if minor > most || minor < -most {
		return Money{}, fmt.Errorf("amount of %d minor units: too large", minor)
	}
	return Money{minor, u}, nil
}

// Parse makes an amount from a decimal number such as "42", "42.5" or "42,50", without thousands separators. More
// decimals than the currency has are an error, not rounded.
func Parse(amount, code string) (Money, error) {
	zero, err := Minor(0, code)
	if err != nil {
		return Money{}, err
	}
	scale := zero.scale()
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
	return Minor(minor, code)
}

func (m Money) scale() int {
	scale, _ := currency.Standard.Rounding(m.unit)
	return scale
}

// known reports whether m has a currency.
func (m Money) known() bool { return m.unit != currency.Unit{} }

// Minor is the amount in minor units.
func (m Money) Minor() int64 { return m.minor }

// Code is the currency's code, empty for the zero value.
func (m Money) Code() string {
	if !m.known() {
		return ""
	}
	return m.unit.String()
}

// Decimal is the amount as a decimal number with all the currency's decimals, such as 42.50.
func (m Money) Decimal() string {
	scale := 0
	if m.known() {
		scale = m.scale()
	}
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
	case !m.known():
		m.unit = o.unit
	case o.known() && m.unit != o.unit:
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

// times is m·x to the nearest minor unit, halves away from zero, held to the largest amount.
func (m Money) times(x float64) Money {
	v := math.Round(float64(m.minor) * x)
	if math.IsNaN(v) {
		v = 0
	}
	return Money{int64(min(max(v, -most), most)), m.unit}
}

// Split divides m by weights of 0 or more, to the last minor unit: shares are rounded down and what is left goes, one
// unit each, to the largest remainders, the first of equals (Hare's method). Without any weight above 0 all
// are equal. There is one share per weight; none for none.
func (m Money) Split(weights []float64) []Money {
	largest, total := 0.0, 0.0
	for _, w := range weights {
		largest = max(largest, positive(w))
	}
	for _, w := range weights {
		total += positive(w) / largest // not a number without any weight
	}
	shares := make([]Money, len(weights))
	rest := make([]float64, len(weights))
	order := make([]int, len(weights))
	left := m.minor
	for i, w := range weights {
		part := positive(w) / largest / total
		if !(total > 0) {
			part = 1 / float64(len(weights))
		}
		exact := float64(m.minor) * part
		shares[i] = Money{int64(math.Floor(exact)), m.unit}
		rest[i], order[i] = exact-math.Floor(exact), i
		left -= shares[i].minor
	}
	sort.SliceStable(order, func(a, b int) bool { return rest[order[a]] > rest[order[b]] })
	for i := 0; left != 0 && len(order) > 0; i = (i + 1) % len(order) {
		step := int64(1)
		if left < 0 {
			step = -1
		}
		shares[order[i]].minor += step
		left -= step
	}
	return shares
}

// positive is w, or 0 when it is negative, infinite or not a number.
func positive(w float64) float64 {
	if w > 0 && !math.IsInf(w, 0) {
		return w
	}
	return 0
}
