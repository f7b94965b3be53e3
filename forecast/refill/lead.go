package refill

import "time"

// Wait is a distribution of whole calendar days: from a reminder to the booking, or from there to the arrival. The zero value is
// not set.
type Wait struct{ share []float64 } // share[d] is the probability of d days

// maxLead is the longest lead time that can be meant, in days.
const maxLead = 365

// Booking is a refill as it went.
type Booking struct{ Booked, Arrived time.Time }

// How Learn and LearnDelay weigh what was expected against what happened.
const (
	// expectedCounts is for how many bookings the expectation counts; ours.
	expectedCounts = 3.0
	// laterShare is the part of the refills that is expected later than answered. Suppliers' share of orders delivered in time
	// lies between 80.2 and 99.8 % (142 firms, benchmark of OpsDog, "On-time Customer Order Delivery Rate"); of one that
	// nobody knows yet the middle of that is taken.
	laterShare = 0.1
	laterRatio = 0.5 // each further day is so many times as likely as the one before; ours
	laterDays  = 10
	recent     = 20 // how far back is looked
)

// Learn is the lead time to expect of the next booking after past ones, the last 20 of them, given the
// household's own answer in days:
//
//	P(d) = (α·G(d) + number of past bookings that took d) / (α + n),
//
// the predictive distribution of a Dirichlet process (Blackwell & MacQueen 1973, the urn scheme) of weight
// α = 3 around G: nine tenths the answer, one tenth later than that.
//
// The days of a booking are calendar days, less those that closed days alone can explain: if the refill came
// on the first open day after a closed spell, it may have been ready at any day of the spell, and the
// day nearest to the answer is taken. open is Policy.Open. Bookings that arrived before they were made or took
// over a year are left out.
func Learn(answer int, past []Booking, open func(day time.Time) bool) Wait {
	answer = min(max(answer, 0), maxLead)
	var took []int
	for _, b := range past[max(0, len(past)-recent):] {
		if days, ok := b.days(answer, open); ok {
			took = append(took, days)
		}
	}
	expected := make([]float64, maxLead+laterDays+1)
	expected[answer] = 1 - laterShare
	total, part := 0.0, 1.0
	for range laterDays {
		part *= laterRatio
		total += part
	}
	for d, part := 1, laterRatio; d <= laterDays; d, part = d+1, part*laterRatio {
		expected[answer+d] = laterShare * part / total
	}
	return urn(expected, took)
}

// urn mixes what was expected with what happened.
func urn(expected []float64, happened []int) Wait {
	l := Wait{expected}
	one := 1 / (expectedCounts + float64(len(happened)))
	for d := range l.share {
		l.share[d] *= expectedCounts * one
	}
	for _, d := range happened {
		l.share[d] += one
	}
	return l.trimmed()
}

// trimmed is l without the impossible days at the end.
func (l Wait) trimmed() Wait {
	n := len(l.share)
	for n > 1 && l.share[n-1] == 0 {
		n--
	}
	return Wait{l.share[:n]}
}

// days is the lead time of b nearest to answer that explains its arrival.
func (b Booking) days(answer int, open func(day time.Time) bool) (int, bool) {
	most := civilDays(b.Booked, b.Arrived)
	if most < 0 || most > maxLead {
		return 0, false
	}
	least := most
	for open != nil && least > 0 && !open(b.Arrived.AddDate(0, 0, least-1-most)) {
		least--
	}
	return min(max(answer, least), most), true
}

// civilDays is the number of calendar days from the date of a to the date of b, each in its own zone.
func civilDays(a, b time.Time) int {
	noon := func(t time.Time) time.Time {
		y, m, d := t.Date()
		return time.Date(y, m, d, 12, 0, 0, 0, time.UTC)
	}
	return int(noon(b).Sub(noon(a)).Hours()) / 24
}

// Quantile is the smallest number of days that p of all bookings do not exceed, 0 when not set.
func (l Wait) Quantile(p float64) int {
	sum := 0.0
	for d, share := range l.share {
		if sum += share; sum >= p-1e-12 {
			return d
		}
	}
	return max(0, len(l.share)-1)
}

// Median is the lead time to tell people.
func (l Wait) Median() int { return l.Quantile(0.5) }

// Mean is the mean lead time in days.
func (l Wait) Mean() float64 {
	sum := 0.0
	for d, share := range l.share {
		sum += float64(d) * share
	}
	return sum
}
