package live

import (
	"testing"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

func TestWorthKeeping(t *testing.T) {
	at := time.Date(2027, 3, 1, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		what      string
		kept, now unit.PPM
		later     time.Duration
		want      bool
	}{
		{"the first", 0, 450, time.Minute, true},
		{"little change", 450, 500, time.Minute, false},
		{"a quarter more", 450, 600, time.Minute, true},
		{"a quarter less", 1000, 700, time.Minute, true},
		{"an hour later", 450, 451, time.Hour, true},
		{"above the alarm", 5100, 5101, time.Minute, true},
		{"back from above", 5100, 4990, time.Minute, true},
	} {
		if got := worthKeeping(record.Event{PPM: c.kept, At: at}, record.Event{PPM: c.now, At: at.Add(c.later)}, 5000); got != c.want {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
}
