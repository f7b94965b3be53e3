package refill

import (
	"math"
	"time"

	"tarebell/forecast/unit"
)

// How fast people act on a message, before anything is known of a household: it acts at a constant rate, which is Gamma(3, b)
// over households, so that P(T > t) = (b/(b + t))³. Of those who ever answered when a message asked them for something small, two
// thirds did within 24 hours (Lightspeed Research 2007, a panel of 7,440), which makes b = 1/(∛3 - 1) days: half within 14 hours, 19
// in 20 within 4 days. Shape 3 is the least whole one for which the variance is finite; ours.
const actsShape, actsScale = 3.0, 2.2611667

// maxDelay is the longest delay that counts, in days: by then the reminders have been repeated many times.
const maxDelay = 40

// Acted is when people were asked for something and when they did it.
type Acted struct{ Asked, Done time.Time }

// LearnDelay is the calendar days to expect until people act on what they are told at the clock time of at, after the last 20 times
// of past. It is the urn scheme of Learn around an exponential law whose rate is learned from the same past, of which
//
//	P(T > t) = (b/(b + t))^a,  a = 3 + n, b = 2.26 + Σ past days (Lomax, the predictive law of the Gamma-exponential),
//
// and the calendar days until then. Times before they were asked count as 0, those over 40 days as 40.
func LearnDelay(past []Acted, at time.Time) Wait {
	past = past[max(0, len(past)-recent):]
	a, b := actsShape+float64(len(past)), actsScale
	var took []int
	for _, p := range past {
		took = append(took, min(max(civilDays(p.Asked, p.Done), 0), maxDelay))
		b += min(max(float64(unit.Between(p.Asked, p.Done)), 0), maxDelay)
	}
	y, m, d := at.Date()
	gone := float64(unit.Between(time.Date(y, m, d, 0, 0, 0, 0, at.Location()), at))
	expected := make([]float64, maxDelay+1)
	still := 1.0
	for d := range maxDelay {
		next := math.Pow(b/(b+float64(d+1)-gone), a)
		expected[d], still = still-next, next
	}
	expected[maxDelay] = still
	return urn(expected, took)
}
