// Package cost works out what the gas costs: per fill, per litre of drink, per member of the household,
// against what would be bought instead, until the outlay is earned back, and what lost gas was worth. Each filling is charged
// as it is drawn, first in, first out, in favour of who paid it.
//
// Amounts of money are whole minor units (cents) and add up to the last one. Prices per gram or litre are ratios
// and become money once, at the end.
package cost

import (
	"fmt"
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Fill is a fill that was paid for: the net gas that came in, not what the cylinder then held.
type Fill struct {
	At    time.Time
	Price unit.Money
	Net   unit.Grams
}

// Check says what is wrong with f.
func (f Fill) Check() error {
	switch {
	case !f.Price.Known() || f.Price.Minor() < 0:
		return fmt.Errorf("fill of %s: price %v: want an amount of 0 or more with its currency", f.At.Format(time.DateOnly), f.Price)
	case !(f.Net > 0) || math.IsInf(float64(f.Net), 0):
		return fmt.Errorf("fill of %s: net gas %g g: must be above 0", f.At.Format(time.DateOnly), float64(f.Net))
	}
	return nil
}

// Rate is money per some quantity, kept as a ratio until it is told. The zero value is no rate.
type Rate struct {
	minor float64    // minor units per quantity
	of    unit.Money // only its currency
}

// Known reports whether there is a rate.
func (r Rate) Known() bool { return r.of.Known() }

// Minor is the rate in minor units per quantity.
func (r Rate) Minor() float64 { return r.minor }

// Rounded is the rate to the nearest minor unit.
func (r Rate) Rounded() unit.Money { return r.of.With(r.minor) }

// Each is the rate of m for each of a quantity, such as the price of a litre in a shop.
func Each(m unit.Money) Rate { return Rate{float64(m.Minor()), m} }

// PerGram is the average price of a gram over fills: all that was paid over all that came in. It is an
// error when a fill fails Check or currencies differ, and no rate without any fill.
func PerGram(fills []Fill) (Rate, error) {
	var paid unit.Money
	var net unit.Grams
	for _, f := range fills {
		if err := f.Check(); err != nil {
			return Rate{}, err
		}
		sum, err := paid.Add(f.Price)
		if err != nil {
			return Rate{}, fmt.Errorf("fill of %s: %w", f.At.Format(time.DateOnly), err)
		}
		paid, net = sum, net+f.Net
	}
	if net == 0 {
		return Rate{}, nil
	}
	return Rate{float64(paid.Minor()) / float64(net), paid}, nil
}

// PerLitre is the price of a litre of drink that takes c of gas per litre, at r per gram.
func (r Rate) PerLitre(c unit.GramsPerLitre) Rate { return Rate{r.minor * float64(c), r.of} }

// Of is what a mass of gas is worth at r per gram: used, lost or left. A mass below 0 or not a number is worth nothing.
func (r Rate) Of(gas unit.Grams) unit.Money {
	return r.of.With(r.minor * positive(float64(gas)))
}

// less is a - b, with an error when currencies differ.
func (r Rate) less(o Rate) (float64, error) {
	if _, err := r.of.Add(o.of); err != nil {
		return 0, err
	}
	return r.minor - o.minor, nil
}
