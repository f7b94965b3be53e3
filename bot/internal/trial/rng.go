package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// rng is a source of random numbers with the distributions used here.
type rng struct{ *rand.Rand }

// Streams of chance of a household: what concerns one does not change the others.
const (
	homeStream = iota + 1
	useStream
	scaleStream
	lossStream
	peopleStream
	guessStream
)

func newRNG(seed, stream uint64) rng {
	return rng{rand.New(rand.NewPCG(seed, stream*0x9e3779b97f4a7c15+1))}
}

func (r rng) between(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }

// logBetween is uniform in the logarithm.
func (r rng) logBetween(lo, hi float64) float64 {
	return math.Exp(r.between(math.Log(lo), math.Log(hi)))
}

func (r rng) normal(mean, sd float64) float64 { return mean + sd*r.NormFloat64() }

// after is exponential, with the mean given.
func (r rng) after(mean float64) float64 { return mean * r.ExpFloat64() }

func (r rng) happens(p float64) bool { return r.Float64() < p }

func (r rng) poisson(mean float64) int {
	if mean <= 0 {
		return 0
	}
	return int(distuv.Poisson{Lambda: mean, Src: r.Rand}.Rand())
}

func oneOf[T any](r rng, xs ...T) T { return xs[r.IntN(len(xs))] }

// span is a stretch of time, in minutes since the start, from included, to not.
type span struct {
	from, to int
	by       float64 // what it brings, g
}

func (s span) holds(t int) bool { return s.from <= t && t < s.to }

// spans are stretches up to end that do not overlap; gap and length are in minutes.
func spans(end int, gap, length func() float64, by func() float64) []span {
	var out []span
	for t := gap(); t < float64(end); t += gap() {
		to := t + length()
		out = append(out, span{int(t), int(to), by()})
		t = to
	}
	return out
}

// at is the stretch that holds t, and the last one that ended before.
func at(all []span, t int) (now, before span) {
	i, _ := slices.BinarySearchFunc(all, t, func(s span, t int) int { return s.from - t - 1 }) // first that begins after t
	if i > 0 && all[i-1].holds(t) {
		now, i = all[i-1], i-1
	}
	if i > 0 {
		before = all[i-1]
	}
	return now, before
}
