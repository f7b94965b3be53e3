package refill

import (
	"math"
	"testing"
	"time"

	"tarebell/forecast/unit"
)

// The load constant of the revised NIOSH lifting equation, 23 kg or 51 lb (from memory). A full 50 lb steel cylinder
// weighs about 160 lb and is about a third lighter when empty (common practice, no source).
func TestCarryHelp(t *testing.T) {
	if lb := math.Round(LoadConstant.Pounds()); lb != 51 {
		t.Errorf("load constant is %g lb, want 51", lb)
	}
	rows := []struct {
		what    string
		gross   unit.Grams
		persons int
		truck   bool
	}{
		{"exactly the constant", unit.Kilograms(23), 1, false},
		{"a gram more", unit.Kilograms(23.001), 2, false},
		{"10 kg fill in a steel cylinder", unit.Kilograms(25.4), 2, false},
		{"two persons' share", unit.Kilograms(46), 2, false},
		{"50 lb cylinder, full", unit.Pounds(160), 4, true},
		{"50 lb cylinder, empty", unit.Pounds(107), 3, true},
		{"nothing", 0, 0, false},
		{"not a number", unit.Grams(math.NaN()), 0, false},
	}
	for _, r := range rows {
		if got := CarryHelp(r.gross); got.Persons != r.persons || got.HandTruck != r.truck {
			t.Errorf("%s: %+v, want %d persons, truck %v", r.what, got, r.persons, r.truck)
		}
	}
}

func TestRetest(t *testing.T) {
	stamped := Retest{Last: time.Date(2024, 5, 1, 0, 0, 0, 0, time.UTC), Years: 5}
	leap := Retest{Last: time.Date(2024, 2, 29, 0, 0, 0, 0, time.UTC), Years: 5}
	rows := []struct {
		r    Retest
		day  string
		want Standing
	}{
		{stamped, "2029-04-30", Good},
		{stamped, "2029-05-01", DueMonth},
		{stamped, "2029-05-31", DueMonth},
		{stamped, "2029-06-01", Expired},
		{leap, "2029-01-31", Good},
		{leap, "2029-02-28", DueMonth},
		{leap, "2029-03-01", Expired},
		{Retest{}, "2029-05-01", NotKnown},
		{Retest{Last: stamped.Last}, "2029-05-01", NotKnown},
	}
	for _, r := range rows {
		day, err := time.Parse(time.DateOnly, r.day)
		if err != nil {
			t.Fatal(err)
		}
		if got := r.r.On(day); got != r.want {
			t.Errorf("%+v on %s: %v, want %v", r.r, r.day, got, r.want)
		}
	}
	if !(Retest{}).Due().IsZero() {
		t.Error("a date out of nothing")
	}
}
