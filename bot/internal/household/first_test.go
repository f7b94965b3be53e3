package household

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// TestFirstWeights: a scale that was never believed is not told as one that never answered.
func TestFirstWeights(t *testing.T) {
	for gross, c := range map[unit.Grams]struct {
		polls int
		want  string
	}{
		0:      {12, "the scale says 0 kg, which cannot be this cylinder."},
		27_500: {2, "the scale says 27.5 kg, which cannot be this cylinder."}, // the third that agrees is believed
	} {
		e := New(options())
		for i := range c.polls {
			w := record.Event{Kind: record.Weighed, Origin: record.Scale, At: start.Add(time.Duration(i) * 10 * time.Minute), Gross: gross}
			e.Apply(w)
			s, _ := e.Situation("", w.At)
			if got := e.opt.Voice.GasLeft(s); !strings.HasSuffix(got, c.want) {
				t.Fatalf("after %d: %s", i+1, got)
			}
		}
	}
}

// TestFullIsWeighedFirst: who weighed a full cylinder once and never again is asked twice for a weight before being sent to book, with half a week to bring the second; but
// is sent to book in the end.
func TestFullIsWeighedFirst(t *testing.T) {
	for _, fill := range []unit.Grams{9_070, 22_680} {
		o := options()
		o.Cylinders[0].Forecast.NetFill = fill
		e := New(o)
		e.Apply(record.Event{Kind: record.Filled, Cylinder: "main", At: start, Net: fill})
		e.Apply(record.Event{Kind: record.Weighed, Cylinder: "main", At: start.Add(time.Hour), Gross: 10_000 + fill, Origin: record.Manual})
		said := ofKind(e.Advance(start.AddDate(0, 0, 120)), notice.WeighDue, notice.RefillDue)
		first := slices.IndexFunc(said, func(n notice.Notice) bool { return n.Kind == notice.RefillDue })
		if first < 2 {
			t.Errorf("%.0f g: the %d. is the first to send people to book", fill, first+1)
			continue
		}
		if wait := said[first].At.Sub(said[first-1].At); wait < 84*time.Hour {
			t.Errorf("%.0f g: sent to book %v after a weight was asked for", fill, wait)
		}
	}
}

// TestTooSoonToBook: a scale shows that a feast took 700 g on the first day, and nothing after it. Nobody is sent to book then; once less than four fifths are there they may be.
func TestTooSoonToBook(t *testing.T) {
	for gas, booked := range map[float64]bool{5_900: false, 5_300: true} {
		e := New(options())
		said := feedAll(e, readings(start, 1, gas, 700))
		said = append(said, feedAll(e, readings(start.AddDate(0, 0, 1), 3, gas-700, 0))...)
		if due := ofKind(said, notice.RefillDue); (len(due) > 0) != booked {
			t.Errorf("of %.0f g: %v", gas, due)
		}
	}
}
