package entry

import (
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
