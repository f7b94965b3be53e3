package refill

// How fast people act on a reminder, before anything is known of a household. Each day somebody acts with the same chance c,
// which is Beta(2, 2) over households: half act on the first day, two in three by the next, 19 in 20 within a week. Asked by
// message to do something small, two thirds of those who ever do it did it within 24 hours (Lightspeed Research 2007, a panel
// of 7,440), and reviews tell of 30 % on the first day and 60 % in the first week; to telephone a supplier is no smaller thing.
const actsBeta, waitsBeta = 2.0, 2.0

// maxDelay is the longest delay that counts, in days: by then the reminders have been repeated many times.
const maxDelay = 40

// LearnDelay is the calendar days from the first reminder to the booking to expect of the next refill after past ones, the last 20
// of them. It is the urn scheme of Learn around a geometric distribution with the chance c learned from the same past
// (Beta-geometric):
//
//	P(D ≥ d) = Π_{j<d} (b + j)/(a + b + j),  a = 2 + n, b = 2 + Σ past days.
//
// Days below 0 count as 0, those over 40 as 40.
func LearnDelay(past []int) Wait {
	past = past[max(0, len(past)-recent):]
	a, b := actsBeta+float64(len(past)), waitsBeta
	var took []int
	for _, d := range past {
		d = min(max(d, 0), maxDelay)
		took = append(took, d)
		b += float64(d)
	}
	expected := make([]float64, maxDelay+1)
	still := 1.0
	for d := range maxDelay {
		next := still * (b + float64(d)) / (a + b + float64(d))
		expected[d], still = still-next, next
	}
	expected[maxDelay] = still
	return urn(expected, took)
}
