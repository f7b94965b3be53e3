package command

import (
	"errors"
	"testing"

	"tarebell/bot/internal/household"
	"tarebell/bot/internal/notice"
)

// TestChartBringsTheWeeks: the weeks come as a second picture once there are enough of them; before that, and when they cannot be
// drawn, nothing of it is seen but, in the latter case, an answer that says so.
func TestChartBringsTheWeeks(t *testing.T) {
	for _, c := range []struct {
		what  string
		weeks []byte
		err   error
		files int
	}{{"enough weeks", []byte("png"), nil, 2}, {"too few", nil, nil, 1}, {"a failure", nil, errors.New("out of ink"), 0}} {
		b := newTableOf(t, func(_ *household.Options, d *Options) {
			d.DrawUse = func(notice.Situation) ([]byte, error) { return c.weeks, c.err }
		})
		b.call("weigh", "weight", "24.6 kg")
		a := b.call("chart")
		if len(a.Message.Files) != c.files {
			t.Errorf("%s: %d files, want %d", c.what, len(a.Message.Files), c.files)
		}
		for _, f := range a.Message.Files {
			if f.Alt == "" || f.Name == "" {
				t.Errorf("%s: a picture without a name or words: %+v", c.what, f)
			}
		}
	}
}
