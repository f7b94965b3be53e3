package simulated

import (
	"math"
	"math/rand/v2"
	"time"
)

// Kind is a sort of household.
type Kind string

// The kinds. Where a number is given as a range it is drawn for each house.
const (
	Steady      Kind = "steady"       // little season, level sd 0.15
	Seasonal    Kind = "seasonal"     // season amplitude a 0.4 to 0.7
	Growing     Kind = "growing"      // use ends at A = 1.5 to 2.5 times its start
	Sporadic    Kind = "sporadic"     // spells of drinking (mean 6 days) and of none (mean 10)
	Weekend     Kind = "weekend"      // Friday to Sunday take 5/6, guests on half the weekend days
	StudentFlat Kind = "student-flat" // terms, vacations, exams, people moving in and out, parties
)

// Kinds are all of them.
var Kinds = []Kind{Steady, Seasonal, Growing, Sporadic, Weekend, StudentFlat}

// habits are the numbers of a kind.
type habits struct {
	season  float64    // a
	growth  float64    // A
	level   float64    // σ
	week    [7]float64 // W, Sunday first, mean 1
	guests  float64    // chance of guests on a Friday, Saturday or Sunday
	dinner  float64    // μ
	trip    float64    // mean days between a person's trips
	holiday float64    // mean days between trips of all
	spells  bool
	terms   bool
}

func habitsOf(k Kind, r *rand.Rand) habits {
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	h := habits{season: 0.1, growth: 1, level: 0.15, week: [7]float64{1, 1, 1, 1, 1, 1, 1},
		guests: 0.1, dinner: between(0, 3), trip: 90, holiday: 150}
	switch k {
	case Steady:
	case Seasonal:
		h.season, h.level = between(0.4, 0.7), 0.2
	case Growing:
		h.growth, h.level = between(1.5, 2.5), 0.2
	case Sporadic:
		h.spells, h.level = true, 0.25
	case Weekend:
		h.week = [7]float64{2, 7. / 24, 7. / 24, 7. / 24, 7. / 24, 23. / 12, 23. / 12}
		h.guests = 0.5
	case StudentFlat:
		h.terms, h.level, h.guests, h.trip = true, 0.25, 0.2, 45
	default:
		panic("simulated: unknown kind " + string(k))
	}
	return h
}

// seasonAt is S on day t, scaled by 1/I0(a) so that its mean over a year is 1.
func seasonAt(a float64, t time.Time) float64 {
	return math.Exp(a*math.Cos(yearAngle(t))) / besselI0(a)
}

// yearAngle is 0 on the 200th day of the year.
func yearAngle(t time.Time) float64 { return 2 * math.Pi * float64(t.YearDay()-200) / 365.25 }

// besselI0 is the modified Bessel function of order 0, by its series (Abramowitz and Stegun 9.6.10), for
// small x.
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-16*sum; k++ {
		term *= x * x / (4 * k * k)
		sum += term
	}
	return sum
}

// vacation says whether day t is in a student vacation, and whether exams are on: two weeks before the
// winter and summer ones.
func vacation(t time.Time) (free, exams bool) {
	md := int(t.Month())*100 + t.Day()
	in := func(from, to int) bool { return from <= md && md <= to }
	return in(208, 229) || in(710, 920) || md >= 1220 || md <= 106, in(125, 207) || in(626, 709)
}
