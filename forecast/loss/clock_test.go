package loss

import "testing"

func TestNightWithin(t *testing.T) {
	for _, c := range []struct{ from, to, nightFrom, nightTo float64 }{
		{0, 0, 23, 6},      // not known
		{22, 8, 23, 6},     // longer than the night
		{1, 9, 1, 6},       // up late
		{20, 5, 23, 5},     // up early
		{23.5, 4, 23.5, 4}, // both
		{10, 16, 23, 6},    // says nothing about the night
		{3, 8, 23, 6},      // too little of it left
	} {
		got := nightWithin(c.from, c.to)
		if got != (window{c.nightFrom, c.nightTo}) {
			t.Errorf("quiet %g to %g: night %v, want %g to %g", c.from, c.to, got, c.nightFrom, c.nightTo)
		}
	}
}
