package estimate

import "math"

// rng is a small generator of random numbers: SplitMix64 (Steele, Lea, Flood 2014), fast and seeded.
type rng struct{ s uint64 }

func (c *rng) next() uint64 {
	c.s += 0x9e3779b97f4a7c15
	z := c.s
	z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9
	z = (z ^ (z >> 27)) * 0x94d049bb133111eb
	return z ^ (z >> 31)
}

// below is a whole number in [0, n); the bias of the remainder is below n/2⁶⁴.
func (c *rng) below(n int) int { return int(c.next() % uint64(n)) }

const (
	tableBits = 13
	tableSize = 1 << tableBits
)

// tables hold equally likely values of common distributions.
type tables struct {
	normal [tableSize]float64 // mean 0, sd 1
	wait   [tableSize]float64 // exponential, mean 1
}

func newTables() *tables {
	t := &tables{}
	for i := range tableSize {
		p := (float64(i) + 0.5) / tableSize
		t.normal[i], t.wait[i] = normalQuantile(p), -math.Log1p(-p)
	}
	return t
}

// exp is eˣ to a relative error below 1e-8 for |x| < 700, a few times faster than math.Exp:
// eˣ = 2ᵏ·eʳ with |r| ≤ ln2/2 and a Taylor polynomial of degree 8.
func exp(x float64) float64 {
	if !(x > -700 && x < 700) {
		return math.Exp(x)
	}
	const ln2 = 0.693147180559945309417232121458
	k := math.Floor(x*(1/ln2) + 0.5)
	r := x - k*ln2
	p := 1 + r*(1.0/8)
	p = 1 + r*(1.0/7)*p
	p = 1 + r*(1.0/6)*p
	p = 1 + r*(1.0/5)*p
	p = 1 + r*(1.0/4)*p
	p = 1 + r*(1.0/3)*p
	p = 1 + r*(1.0/2)*p
	p = 1 + r*p
	return p * math.Float64frombits(uint64(int64(k)+1023)<<52)
}
