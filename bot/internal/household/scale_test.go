package household

import (
	"strings"
	"testing"
	"time"

	"tarebell/bot/internal/notice"
	"tarebell/forecast/unit"
	"tarebell/forecast/unit/record"
)

// checksAsked are the notices that ask for a check of the scale.
func checksAsked(said []notice.Notice) (out []notice.Notice) {
	for _, n := range said {
		if strings.HasSuffix(n.Key, "/check") {
			out = append(out, n)
		}
	}
	return out
}

// halfYearLess is an engine whose scale was first heard half a year ago less some days.
func halfYearLess(days int) *Engine {
	e := New(options())
	feedAll(e, readings(start.AddDate(0, 0, -1), 1, 5_955, 55))
	e.cylinders[0].scale.Last = start.AddDate(0, -6, days)
	return e
}

// Half a year after the last check another is asked for, once; not again before another half year, and not after a check.
func TestHalfYearCheck(t *testing.T) {
	e := halfYearLess(3)
	asked := checksAsked(feedAll(e, readings(start, 25, 5_900, 55)))
	if len(asked) != 1 {
		t.Fatalf("asked %d times in 25 days, want once", len(asked))
	}
	n := asked[0]
	if want := start.AddDate(0, 0, 3); n.At.Before(want) || n.At.After(want.AddDate(0, 0, 1)) {
		t.Errorf("asked at %s, want the first look after %s", n.At, want)
	}
	if n.Kind != notice.OddReading || n.Severity != notice.Info || n.Follows != "" {
		t.Errorf("kind %s, severity %s, follows %q", n.Kind, n.Severity, n.Follows)
	}
	for i := range e.cylinders[0].scale.told {
		if at := &e.cylinders[0].scale.told[i]; !at.IsZero() {
			*at = at.AddDate(0, -6, 0)
		}
	}
	if asked := checksAsked(feedAll(e, readings(e.Now().Add(time.Hour), 5, 4_500, 55))); len(asked) != 1 || asked[0].Follows != n.Key {
		t.Errorf("after another half year: %v", asked)
	}
	e.Apply(record.Event{At: e.Now(), Kind: record.Calibrated})
	if asked := checksAsked(feedAll(e, readings(e.Now().Add(time.Hour), 5, 4_200, 55))); len(asked) != 0 {
		t.Errorf("asked %q after a check", asked[0].Text())
	}
}

// What is put off comes again two weeks later, as a continuation, once.
func TestCheckLater(t *testing.T) {
	e := halfYearLess(1)
	var first time.Time
	var asked []notice.Notice
	for _, w := range readings(start, 35, 5_900, 55) {
		said := checksAsked(e.Apply(w))
		asked = append(asked, said...)
		if len(said) > 0 && first.IsZero() {
			first = said[0].At
			e.Apply(record.Event{At: e.Now(), Kind: record.CheckLater})
		}
	}
	if len(asked) != 2 {
		t.Fatalf("asked %d times, want twice", len(asked))
	}
	if days := asked[1].At.Sub(first).Hours() / 24; days < 14 || days > 15.1 || asked[1].Follows != asked[0].Key {
		t.Errorf("again after %.1f days, follows %q, want %q", days, asked[1].Follows, asked[0].Key)
	}
}

// Heat and cold beyond what the scale is made for are an occasion each; the config says what it is made for.
func TestCheckAfterHeat(t *testing.T) {
	for _, c := range []struct {
		name     string
		from, to unit.Celsius
		want     []string
	}{
		{"of its class", 0, 0, []string{"as hot as 43 °C", "as cold as -12 °C"}},
		{"by the config", -20, 45, nil},
		{"by a stricter config", 5, 30, []string{"as cold as 4 °C", "as hot as 43 °C"}},
	} {
		o := options()
		o.Cylinders[0].ScaleFrom, o.Cylinders[0].ScaleTo = c.from, c.to
		e := New(o)
		var asked []notice.Notice
		for i, w := range readings(start, 20, 5_900, 55) {
			w.Temp, w.HasTemp = 4, true
			switch i {
			case 100:
				w.Temp = 43
			case 300:
				w.Temp = -12
			}
			asked = append(asked, checksAsked(e.Apply(w))...)
		}
		if len(asked) != len(c.want) {
			t.Errorf("%s: asked %d times, want %d", c.name, len(asked), len(c.want))
			continue
		}
		for i, n := range asked {
			if !strings.Contains(n.Text(), c.want[i]) {
				t.Errorf("%s: %q, want %q in it", c.name, n.Text(), c.want[i])
			}
		}
	}
}

// A receipt that the scale contradicts is an occasion on the next look, not in the message about the filling; one that agrees is none.
func TestCheckAfterReceipt(t *testing.T) {
	for _, c := range []struct {
		receipt unit.Grams
		want    int
	}{{5_950, 0}, {6_900, 1}} {
		e := New(options())
		feedAll(e, readings(start, 10, 2_500, 55))
		at := start.AddDate(0, 0, 10)
		asked := checksAsked(e.Apply(record.Event{At: at, Kind: record.Filled, Net: c.receipt}))
		asked = append(asked, checksAsked(feedAll(e, readings(at.Add(time.Hour), 5, 5_900, 55)))...)
		if len(asked) != c.want {
			t.Errorf("receipt of %v g, %v found: asked %d times, want %d", c.receipt, 5_900, len(asked), c.want)
		}
		for _, n := range asked {
			if !strings.Contains(n.Text(), "The last receipt said 6.9 kg") || n.At.Hour() != 7 && n.At.In(e.opt.Voice.Zone).Hour() != e.opt.ReviewHour {
				t.Errorf("at %s: %q", n.At, n.Text())
			}
		}
	}
}
