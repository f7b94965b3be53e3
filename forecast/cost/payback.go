package cost

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"tarebell/forecast/runout"
	"tarebell/forecast/unit"
)

// Uncertain is a positive quantity with its standard deviation.
type Uncertain struct{ Mean, SD float64 }

// Comparison is what the household saves against what it would buy instead.
type Comparison struct {
	Outlay        unit.Money // what was paid for the equipment
	Alternative   Rate       // per litre of drink
	Gas           Rate       // per gram
	GramsPerLitre Uncertain  // gas per litre of drink
	Use           Uncertain  // long-run mean use, g/day
	Made          unit.Litres
}

// Saving is what has been saved and what is still to earn.
type Saving struct {
	PerLitre Rate
	SoFar    unit.Money // on the litres made, before the outlay
	Open     unit.Money // of the outlay, 0 when it is earned back
	// Payback is the time from now until the outlay is earned back, at today's prices; a draw of +Inf says
	// that a litre costs more than it saves. It is unknown when the use is.
	Payback runout.Distribution
}

// draws of each of the two uncertain quantities.
const draws = 40

// Compare works out c. Payback is the distribution of
//
//	T = open / (u·(a/g - p))
//
// with u the use in g/day and g the gas per litre, both log-normal with the given mean and standard deviation
// (they cannot be below 0) and independent, a the alternative per litre and p the price of a gram. It is
// evaluated on a grid of 40 by 40 even quantiles.
//
// Differing currencies, or a gas per litre that is not above 0, are errors.
func Compare(c Comparison) (Saving, error) {
	if !c.Alternative.Known() || !c.Gas.Known() {
		return Saving{}, errors.New("comparison: the price of a fill and the price of the alternative per litre must both be known")
	}
	if !(c.GramsPerLitre.Mean > 0) || math.IsInf(c.GramsPerLitre.Mean, 0) {
		return Saving{}, fmt.Errorf("comparison: gas per litre of drink %g g: must be above 0, such as 7", c.GramsPerLitre.Mean)
	}
	each, err := c.Alternative.less(c.Gas.PerLitre(unit.GramsPerLitre(c.GramsPerLitre.Mean)))
	if err != nil {
		return Saving{}, fmt.Errorf("comparison: %w", err)
	}
	s := Saving{PerLitre: Rate{each, c.Alternative.of}}
	s.SoFar = c.Alternative.of.With(each * positive(float64(c.Made)))
	if s.Open, err = c.Outlay.Add(s.SoFar.Neg()); err != nil {
		return Saving{}, fmt.Errorf("comparison: outlay: %w", err)
	}
	s.Open = s.Open.With(max(0, float64(s.Open.Minor())))
	if c.Use.Mean > 0 && !math.IsInf(c.Use.Mean, 0) {
		s.Payback = c.payback(float64(s.Open.Minor()))
	}
	return s, nil
}

func (c Comparison) payback(open float64) runout.Distribution {
	var days []unit.Days
	for _, use := range c.Use.quantiles() {
		for _, g := range c.GramsPerLitre.quantiles() {
			daily := use * (c.Alternative.minor/g - c.Gas.minor)
			switch {
			case open <= 0:
				days = append(days, 0)
			case daily <= 0:
				days = append(days, unit.Days(math.Inf(1)))
			default:
				days = append(days, unit.Days(open/daily))
			}
		}
	}
	return runout.FromDraws(days)
}

// quantiles are even quantiles of the log-normal law with mean and standard deviation of u; only the mean when that
// is certain.
func (u Uncertain) quantiles() []float64 {
	if !(u.SD > 0) || math.IsInf(u.SD, 0) {
		return []float64{u.Mean}
	}
	v := math.Log1p(u.SD * u.SD / (u.Mean * u.Mean))
	law := distuv.LogNormal{Mu: math.Log(u.Mean) - v/2, Sigma: math.Sqrt(v)}
	q := make([]float64, draws)
	for i := range q {
		q[i] = law.Quantile((float64(i) + 0.5) / draws)
	}
	return q
}
