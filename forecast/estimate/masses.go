package estimate

import (
	"math"

	"tarebell/forecast/unit"
)

// Priors about masses: how far the stamped and the printed ones, and what a scale shows, may be from the truth. All of them grow with the
// cylinder.

// full is the gross mass of a full cylinder, g.
func (o *Options) full() float64 { return max(float64(o.House), 0) + max(float64(o.NetFill), 100) }

// scaleShare is the standard deviation of a scale's error relative to the load. A scale of accuracy class IIII may be off by three divisions in
// service at 500 of them (OIML R 76-1:2006, 3.5.1 and 3.5.2), say 25 kg by 150 g: 0.6 %, taken as two standard deviations.
const scaleShare = 0.003

// tareShare is the standard deviation of what house weighs relative to what is stamped and configured: paint, rust, another valve since. Common practice, no
// source.
const tareShare = 0.005

// swapShare is the standard deviation of what cylinders of one size weigh empty, relative to their mass: walls of other makers, other
// valves. Common practice, no source.
const swapShare = 0.05

// offsetSD is the standard deviation of gross less net less house, g: the scale's error, the tare's, and its stamping with three significant figures,
// rounded up (UN Model Regulations 6.2.2.7.2 (g), from memory).
func (o *Options) offsetSD() float64 {
	house := max(float64(o.House), 100)
	step := math.Pow(10, math.Floor(math.Log10(house))-2)
	return math.Sqrt(math.Pow(scaleShare*o.full(), 2) + math.Pow(tareShare*house, 2) + step*step/12)
}

// HouseSD is the standard deviation of gross less net less house before any weighing.
func (f *Filter) HouseSD() unit.Grams { return unit.Grams(f.opt.offsetSD()) }

// driftSD is how far a scale's zero goes in √day, g: in ten years by as much as it may be off in all; and, where it is seen to go up and down by sway with the warmth
// of the day, by season of that: in a quarter of a year by two and a half times as much, since rooms are some degrees warmer in summer than in winter. No source.
// What it may move by unseen, the floor, says nothing of the season.
func (o *Options) driftSD(sway float64) float64 {
	const season = 0.25
	seen := math.Sqrt(max(sway*sway-o.floorSD()*o.floorSD(), 0))
	return math.Hypot(scaleShare*o.full()/math.Sqrt(3652.5), season*seen)
}

// typedSD is the scatter of typed weights before they show their own: half of what a scale may be off in service, two divisions (OIML R 76-1:2006, 3.5.2).
// What weighs more than 5 kg goes onto a bathroom scale with divisions of 100 g, less onto a kitchen scale of 1000 divisions (common practice, no source).
func (o *Options) typedSD() float64 {
	const kitchen, bathroom = 5000, 100
	if full := o.full(); full < kitchen {
		return full / 1000 * 5
	}
	return bathroom
}

// floorSD is what averaging the readings of some hours does not take away, g: a scale of class IIII may move by a division in 5 °C (OIML R 76-1:2006, 3.9.2.3), and a room
// moves by 3/4 °C about its mean (common practice, no source). Divisions as in scaleShare.
func (o *Options) floorSD() float64 { return o.full() / 500 * 0.75 / 5 }

// fillOf is mean and sd of the net mass in a cylinder on whose receipt net g stand. There is no more, since the filling ratio is a limit (49 CFR
// 173.304a), and no package may lack more than twice the tolerable deficiency T (OIML R 87:2016, 4.2 and Table 1): taken as evenly between.
func fillOf(net float64) (mean, sd float64) {
	t := shortfall(net)
	return net - t, t / math.Sqrt(3)
}

// shortfall is the tolerable deficiency of a package of net g (OIML R 87:2016, Table 1).
func shortfall(net float64) float64 {
	switch {
	case net < 50:
		return 0.09 * net
	case net < 100:
		return 4.5
	case net < 200:
		return 0.045 * net
	case net < 300:
		return 9
	case net < 500:
		return 0.03 * net
	case net < 1000:
		return 15
	case net < 10000:
		return 0.015 * net
	case net < 15000:
		return 150
	}
	return 0.01 * net
}

// below is the probability that what n describes is less than x.
func below(x float64, n Normal) float64 { return math.Erfc((n.Mean-x)/n.SD/math.Sqrt2) / 2 }

// held is mean and sd of a normal distribution that is known to lie between lo and hi (Johnson, Kotz & Balakrishnan 1994, 13.10.1).
func held(n Normal, lo, hi float64) Normal {
	if n.SD <= 0 || n.Mean-lo > 6*n.SD && hi-n.Mean > 6*n.SD {
		return Normal{min(max(n.Mean, lo), hi), n.SD}
	}
	if hi-lo < n.SD/1e3 { // all places within them are about as likely
		return Normal{(lo + hi) / 2, (hi - lo) / math.Sqrt(12)}
	}
	mean := min(max(n.Mean, lo-6*n.SD), hi+6*n.SD)
	a, b := (lo-mean)/n.SD, (hi-mean)/n.SD
	density := func(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
	mass := (math.Erfc(-b/math.Sqrt2) - math.Erfc(-a/math.Sqrt2)) / 2
	if a > 0 {
		mass = (math.Erfc(a/math.Sqrt2) - math.Erfc(b/math.Sqrt2)) / 2
	}
	d := (density(a) - density(b)) / mass
	v := 1 + (a*density(a)-b*density(b))/mass - d*d
	return Normal{min(max(mean+n.SD*d, lo), hi), n.SD * math.Sqrt(max(v, 0))}
}
