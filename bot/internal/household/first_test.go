package household

import (
	"strings"
	"testing"
	"time"

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
			if got := e.opt.Voice.Lasts(s); !strings.HasSuffix(got, c.want) {
				t.Fatalf("after %d: %s", i+1, got)
			}
		}
	}
}
