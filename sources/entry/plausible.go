package entry

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// Without a configured cylinder any mass between these is plausible; common practice, no source.
const (
	leastGross unit.Grams = 200
	mostGross  unit.Grams = 300_000
)

// margin is how far a gross weight may lie outside what the cylinder can weigh: scales are off and fills
// vary.
func (c *Cylinder) margin() unit.Grams { return max(0.1*c.NetFill, 0.02*c.Full()) }

// fits reports whether u can be a weight of c.
func (c *Cylinder) fits(u Understood) bool {
	switch {
	case c.NetFill <= 0 && u.Net:
		return 0 <= u.Gross && u.Gross <= mostGross
	case c.NetFill <= 0:
		return leastGross <= u.Gross && u.Gross <= mostGross
	case u.Net:
		return 0 <= u.Gross && u.Gross <= c.NetFill+c.margin()
	}
	return c.Empty()-c.margin() <= u.Gross && u.Gross <= c.Full()+c.margin()
}

// change is how much more u weighs than what was weighed last; ok is false if that cannot be compared.
func (c *Cylinder) change(u Understood) (d unit.Grams, ok bool) {
	if c.Last == 0 || u.At.Before(c.LastAt.Truncate(time.Second)) {
		return 0, false
	}
	g := u.Gross
	if u.Net {
		g += c.Empty()
	}
	return g - c.Last, true
}

// grams is v of unit u, rounded to what String prints: 0.1 g, a tenth of a thousandth of a pound, a
// hundredth of an ounce. So what is printed reads back as the same mass.
func grams(v float64, u Unit) unit.Grams {
	switch u {
	case Kilograms:
		return unit.Kilograms(round(v, 1e4))
	case Grams:
		return unit.Grams(round(v, 10))
	case Pounds:
		return unit.Pounds(round(v, 1e4))
	}
	if u == ounces {
		v /= 16
	}
	lb, oz := poundsOunces(v)
	return unit.Pounds(lb + oz/16)
}

// poundsOunces splits pounds into whole pounds and ounces to the hundredth.
func poundsOunces(v float64) (lb, oz float64) {
	hundredths := math.Round(v * 1600)
	lb = math.Trunc(hundredths / 1600)
	return lb, (hundredths - 1600*lb) / 100
}

func round(v, per float64) float64 { return math.Round(v*per) / per }

func abs(x float64) float64 { return max(x, -x) }
