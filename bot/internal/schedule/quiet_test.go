package schedule

import (
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func itoa(n int) string { return strconv.Itoa(n) }

func TestQuiet(t *testing.T) {
	const h = time.Hour
	for _, c := range []struct {
		name     string
		from, to time.Duration
		zone     string
		at, want string // want "": not quiet
	}{
		{"before", 22 * h, 8 * h, "Europe/Vienna", "2026-06-01T21:59:59+02:00", ""},
		{"begins", 22 * h, 8 * h, "Europe/Vienna", "2026-06-01T22:00:00+02:00", "2026-06-02T08:00:00+02:00"},
		{"after midnight", 22 * h, 8 * h, "Europe/Vienna", "2026-06-02T00:00:00+02:00", "2026-06-02T08:00:00+02:00"},
		{"last second", 22 * h, 8 * h, "Europe/Vienna", "2026-06-02T07:59:59+02:00", "2026-06-02T08:00:00+02:00"},
		{"over", 22 * h, 8 * h, "Europe/Vienna", "2026-06-02T08:00:00+02:00", ""},
		{"siesta", 13 * h, 15 * h, "Europe/Vienna", "2026-06-02T14:00:00+02:00", "2026-06-02T15:00:00+02:00"},
		{"outside the siesta", 13 * h, 15 * h, "Europe/Vienna", "2026-06-02T00:00:00+02:00", ""},
		{"never", 8 * h, 8 * h, "Europe/Vienna", "2026-06-02T08:00:00+02:00", ""},
		{"from midnight", 0, 7 * h, "Europe/Vienna", "2026-06-02T00:00:00+02:00", "2026-06-02T07:00:00+02:00"},
		{"to midnight", 20 * h, 0, "Europe/Vienna", "2026-06-02T23:00:00+02:00", "2026-06-03T00:00:00+02:00"},
		{"short night", 22 * h, 8 * h, "Europe/Vienna", "2026-03-28T23:00:00+01:00", "2026-03-29T08:00:00+02:00"},
		{"long night", 22 * h, 8 * h, "Europe/Vienna", "2026-10-24T23:00:00+02:00", "2026-10-25T08:00:00+01:00"},
		{"ends in the gap", 22 * h, 2*h + 30*time.Minute, "Europe/Vienna", "2026-03-29T01:00:00+01:00", "2026-03-29T03:00:00+02:00"},
		{"end occurs twice", 22 * h, 2*h + 30*time.Minute, "Europe/Vienna", "2026-10-25T02:10:00+02:00", "2026-10-25T02:30:00+02:00"},
		{"and is over", 22 * h, 2*h + 30*time.Minute, "Europe/Vienna", "2026-10-25T02:10:00+01:00", ""},
		{"year's end", 22 * h, 8 * h, "Australia/Lord_Howe", "2026-12-31T23:30:00+11:00", "2027-01-01T08:00:00+11:00"},
	} {
		q := Quiet{From: c.from, To: c.to, Location: zone(t, c.zone)}
		end, quiet := q.Until(at(t, c.at))
		if got := end.Format(time.RFC3339); quiet != (c.want != "") || quiet && got != c.want {
			t.Errorf("%s: at %s: %s, %t; want %q", c.name, c.at, got, quiet, c.want)
		}
	}
}

// When the quiet hours end, they have ended; and they last less than a day (and a clock change).
func TestQuietEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := Quiet{
			From:     time.Duration(rapid.IntRange(0, 1439).Draw(t, "from")) * time.Minute,
			To:       time.Duration(rapid.IntRange(0, 1439).Draw(t, "to")) * time.Minute,
			Location: zone(t, rapid.SampledFrom(zones).Draw(t, "zone")),
		}
		now := time.Unix(rapid.Int64Range(1.7e9, 2.1e9).Draw(t, "now"), 0)
		end, quiet := q.Until(now)
		if !quiet {
			return
		}
		if !end.After(now) || end.Sub(now) > 25*time.Hour {
			t.Fatalf("from %v to %v", now, end)
		}
		if again, still := q.Until(end); still && again.Sub(end) > time.Hour {
			t.Fatalf("at the end, %v, still quiet until %v", end, again)
		}
	})
}
