package household

import (
	"testing"
	"time"

	"tarebell/bot/internal/checkpoint"
	"tarebell/forecast/unit/record"
)

// TestSilence: a century without any input ends with few moments dealt with; one leap and many steps come to the same state; and after it the
// household is reviewed as ever.
func TestSilence(t *testing.T) {
	leap, steps := New(options()), New(options())
	ws := readings(start, 40, 5_900, 55)
	feedAll(leap, ws)
	feedAll(steps, ws)
	last := ws[len(ws)-1].At
	then := last.AddDate(100, 0, 0)
	moments := 0
	for next := steps.Next(); !next.IsZero() && !next.After(then); next = steps.Next() {
		if moments++; moments > 600 {
			t.Fatalf("%d moments by %s", moments, next)
		}
		steps.Advance(next)
		if quiet := next.Sub(last); quiet > silence && quiet < longSilence && steps.Next().Sub(next) > quiet/rarer+24*time.Hour {
			t.Errorf("after %s the next moment is %s", next, steps.Next())
		}
	}
	leap.Advance(then)
	steps.Advance(then)
	if a, b := steps.timetable, leap.timetable; !a.review.Equal(b.review) || !a.status.Equal(b.status) || steps.cylinders[0].retest != leap.cylinders[0].retest {
		t.Errorf("in steps the next review is %s, in one leap %s", a.review, b.review)
	}
	w := record.Event{Kind: record.Weighed, Cylinder: "main", At: then.Add(time.Minute), Gross: 15_000, Origin: record.Scale}
	leap.Apply(w)
	if next := leap.Next().Sub(w.At); next > 24*time.Hour {
		t.Errorf("after the next weighing it takes %s to the next review", next)
	}
	if _, err := checkpoint.Encode(leap, time.UTC); err != nil {
		t.Error(err)
	}
}

// BenchmarkCentury lets a century pass without any input, and takes a weighing then.
func BenchmarkCentury(b *testing.B) {
	ws := readings(start, 40, 5_900, 55)
	for b.Loop() {
		b.StopTimer()
		e := New(options())
		feedAll(e, ws)
		b.StartTimer()
		then := e.Now().AddDate(100, 0, 0)
		e.Advance(then)
		e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: then, Gross: 15_000, Origin: record.Scale})
	}
}
