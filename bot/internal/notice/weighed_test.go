package notice

import (
	"strings"
	"testing"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/unit"
)

// TestWeighedUp: who typed the gas alone and is told another figure is told why; small differences of a gross weight need no word.
func TestWeighedUp(t *testing.T) {
	v := Voice{Zone: time.UTC}
	s := Situation{Content: Content{House: 15_400, GrossFull: 24_300, GrossEmpty: 14_300, Outlook: forecast.Outlook{Known: true, Gas: forecast.Normal{Mean: 6_430}, Heel: 130}}}
	for _, c := range []struct {
		gross unit.Grams
		net   bool
		want  string
	}{
		{15_400 + 6_430, false, ""}, {15_400 + 6_480, false, ""},
		{15_400 + 6_430, true, "The last 130 g are too thin to carbonate"},
		{15_400 + 6_600, true, "By this weight alone it would be 6.5 kg"},
		{15_400 + 7_000, false, "By this weight alone it would be 6.9 kg"},
	} {
		if got := v.WeighedUp(s, c.gross, c.net); c.want == "" && got != "" || !strings.HasPrefix(got, c.want) {
			t.Errorf("%v net %v: %q, want %q", c.gross, c.net, got, c.want)
		}
	}
}
