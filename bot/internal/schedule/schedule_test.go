package schedule

import (
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones' rules do not depend on the machine

	"pgregory.net/rapid"
)

func zone(tb rapid.TB, name string) *time.Location {
	loc, err := time.LoadLocation(name)
	if err != nil {
		tb.Fatal(err)
	}
	return loc
}

func parse(tb rapid.TB, line, zoneName string) Schedule {
	s, err := Parse(line, zone(tb, zoneName))
	if err != nil {
		tb.Fatal(err)
	}
	return s
}

func at(tb rapid.TB, s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		tb.Fatal(err)
	}
	return t
}

// Clock changes of 2026 from the IANA time zone database, files europe, northamerica and australasia: Vienna
// (rule EU) 29 March and 25 October at 01:00 UTC; New York (rule US) 8 March and 1 November at 02:00 local; Lord Howe
// (rule LH, half an hour, southern) 5 April and 4 October at 02:00 local.
func TestNext(t *testing.T) {
	const vienna, newYork, lordHowe = "Europe/Vienna", "America/New_York", "Australia/Lord_Howe"
	for _, c := range []struct {
		name, zone, line, from string
		want                   []string
	}{
		{"weekly over the change forward", vienna, "0 18 * * SUN", "2026-03-22T18:00:00+01:00",
			[]string{"2026-03-29T18:00:00+02:00", "2026-04-05T18:00:00+02:00"}},
		{"weekly over the change back", vienna, "0 18 * * SUN", "2026-10-18T18:00:00+02:00",
			[]string{"2026-10-25T18:00:00+01:00", "2026-11-01T18:00:00+01:00"}},
		{"a time that does not occur", vienna, "30 2 * * *", "2026-03-28T02:30:00+01:00",
			[]string{"2026-03-29T03:00:00+02:00", "2026-03-30T02:30:00+02:00"}},
		{"several that do not occur are one", vienna, "*/20 2 * * *", "2026-03-28T02:40:00+01:00",
			[]string{"2026-03-29T03:00:00+02:00", "2026-03-30T02:00:00+02:00"}},
		{"the moment of the jump", vienna, "0 3 * * *", "2026-03-28T03:00:00+01:00",
			[]string{"2026-03-29T03:00:00+02:00", "2026-03-30T03:00:00+02:00"}},
		{"a time that occurs twice", vienna, "30 2 * * *", "2026-10-24T02:30:00+02:00",
			[]string{"2026-10-25T02:30:00+02:00", "2026-10-26T02:30:00+01:00"}},
		{"asked between the two", vienna, "30 2 * * *", "2026-10-25T02:10:00+01:00",
			[]string{"2026-10-26T02:30:00+01:00"}},
		{"hourly over the change back", vienna, "0 * * * *", "2026-10-25T01:30:00+02:00",
			[]string{"2026-10-25T02:00:00+02:00", "2026-10-25T03:00:00+01:00"}},
		{"hourly over the change forward", vienna, "0 * * * *", "2026-03-29T01:30:00+01:00",
			[]string{"2026-03-29T03:00:00+02:00", "2026-03-29T04:00:00+02:00"}},

		{"weekly over the change forward", newYork, "0 18 * * SUN", "2026-03-01T18:00:00-05:00",
			[]string{"2026-03-08T18:00:00-04:00", "2026-03-15T18:00:00-04:00"}},
		{"a time that does not occur", newYork, "15 2 * * *", "2026-03-07T12:00:00-05:00",
			[]string{"2026-03-08T03:00:00-04:00", "2026-03-09T02:15:00-04:00"}},
		{"a time that occurs twice", newYork, "15 1 * * *", "2026-10-31T12:00:00-04:00",
			[]string{"2026-11-01T01:15:00-04:00", "2026-11-02T01:15:00-05:00"}},

		{"half an hour forward, does not occur", lordHowe, "15 2 * * *", "2026-10-03T12:00:00+10:30",
			[]string{"2026-10-04T02:30:00+11:00", "2026-10-05T02:15:00+11:00"}},
		{"half an hour forward, just after", lordHowe, "0 3 * * *", "2026-10-03T12:00:00+10:30",
			[]string{"2026-10-04T03:00:00+11:00", "2026-10-05T03:00:00+11:00"}},
		{"half an hour back, occurs twice", lordHowe, "45 1 * * *", "2026-04-04T12:00:00+11:00",
			[]string{"2026-04-05T01:45:00+11:00", "2026-04-06T01:45:00+10:30"}},
		{"half an hour back, occurs once", lordHowe, "15 1 * * *", "2026-04-04T12:00:00+11:00",
			[]string{"2026-04-05T01:15:00+11:00", "2026-04-06T01:15:00+10:30"}},

		// Samoa left out 30 December 2011 to change sides of the date line (tz database, file australasia).
		{"a day that does not occur", "Pacific/Apia", "0 18 * * *", "2011-12-29T18:00:00-10:00",
			[]string{"2011-12-31T00:00:00+14:00", "2011-12-31T18:00:00+14:00"}},
		// Lebanon's clocks jump at midnight.
		{"midnight does not occur", "Asia/Beirut", "@daily", "2026-03-28T12:00:00+02:00",
			[]string{"2026-03-29T01:00:00+03:00", "2026-03-30T00:00:00+03:00"}},

		{"end of the year", vienna, "0 0 1 1 *", "2026-12-31T23:59:59+01:00", []string{"2027-01-01T00:00:00+01:00", "2028-01-01T00:00:00+01:00"}},
		{"last minute of the year", "Pacific/Kiritimati", "59 23 31 12 *", "2026-12-31T23:59:00+14:00", []string{"2027-12-31T23:59:00+14:00"}},
		{"week over the year's end", vienna, "0 18 * * SUN", "2026-12-31T00:00:00Z", []string{"2027-01-03T18:00:00+01:00"}},
		{"29 February", vienna, "0 9 29 2 *", "2026-01-01T00:00:00Z", []string{"2028-02-29T09:00:00+01:00", "2032-02-29T09:00:00+01:00"}},
		{"no 29 February in 2100", "UTC", "0 9 29 2 *", "2096-03-01T00:00:00Z", []string{"2104-02-29T09:00:00Z"}},
		{"31st of the month", "UTC", "0 9 31 * *", "2026-01-31T09:00:00Z", []string{"2026-03-31T09:00:00Z"}},
		{"between seconds", "UTC", "* * * * *", "2026-01-01T00:00:59.999Z", []string{"2026-01-01T00:01:00Z"}},
	} {
		s, now := parse(t, c.line, c.zone), at(t, c.from)
		for _, want := range c.want {
			now = s.Next(now)
			if got := now.Format(time.RFC3339); got != want {
				t.Errorf("%s: %q in %s from %s: %s, want %s", c.name, c.line, c.zone, c.from, got, want)
				break
			}
		}
	}
}

// Between clock changes the answers are those of the cron library itself in the same zone.
func TestNextAsLibrary(t *testing.T) {
	loc := zone(t, "Europe/Vienna")
	for _, line := range []string{"0 18 * * SUN", "*/7 3-5 1,15 * *", "5 0 * 8 *", "0 0 1 * MON", "@weekly"} {
		s := parse(t, line, "Europe/Vienna")
		for now, end := at(t, "2026-04-01T00:00:00Z"), at(t, "2026-10-20T00:00:00Z"); now.Before(end); {
			got, want := s.Next(now), s.cron.Next(now.In(loc))
			if !got.Equal(want) {
				t.Fatalf("%q after %v: %v, the library says %v", line, now, got, want)
			}
			now = got
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for line, say := range map[string]string{
		"":                        "minute hour day month weekday",
		"0 18 * *":                "minute hour day month weekday",
		"0 25 * * *":              "25",
		"0 18 * * FUNDAY":         "FUNDAY",
		"0 9 31 2 *":              "no such day",
		"@every 1h":               "fixed distance",
		"TZ=Asia/Tokyo 0 9 * * *": "leave the time zone out",
		"0 0 18 * * SUN":          "minute hour day month weekday",
	} {
		if _, err := Parse(line, time.UTC); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("Parse(%q): %v; want %q", line, err, say)
		}
	}
}

var zones = []string{"Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns", "UTC"}

// Next moves forward and skips nothing: from any moment before it, the same occasion comes next. Each calendar
// day has exactly one occasion of a daily schedule, whatever the clocks do.
func TestNextProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		loc := zone(t, rapid.SampledFrom(zones).Draw(t, "zone"))
		hour, min := rapid.IntRange(0, 23).Draw(t, "hour"), rapid.IntRange(0, 59).Draw(t, "min")
		s, err := Parse(strings.Join([]string{itoa(min), itoa(hour), "* * *"}, " "), loc)
		if err != nil {
			t.Fatal(err)
		}
		from := time.Unix(rapid.Int64Range(1.7e9, 2.1e9).Draw(t, "from"), 0)
		first := s.Next(from)
		second := s.Next(first)
		if !first.After(from) || !second.After(first) {
			t.Fatalf("not forward: %v, %v, %v", from, first, second)
		}
		if days := clock(second).Truncate(24 * time.Hour).Sub(clock(first).Truncate(24 * time.Hour)); days != 24*time.Hour {
			t.Fatalf("from %v to %v is not the next day", first, second)
		}
		between := first.Add(time.Duration(rapid.Float64Range(0, 0.999).Draw(t, "part") * float64(second.Sub(first))))
		if got := s.Next(between); !got.Equal(second) {
			t.Fatalf("after %v: %v, want %v", between, got, second)
		}
	})
}

// Days are counted by the calendar, also over a clock change and where the zone makes it another day.
func TestDaysBetween(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	at := func(m time.Month, d, h int) time.Time { return time.Date(2027, m, d, h, 0, 0, 0, zone) }
	for _, c := range []struct {
		a, b time.Time
		want int
	}{
		{at(3, 27, 23), at(3, 28, 1), 1}, {at(3, 28, 0), at(3, 29, 0), 1}, {at(3, 28, 1), at(3, 28, 23), 0}, {at(10, 31, 23), at(10, 30, 1), -1},
		{at(1, 1, 0), time.Date(2026, 12, 31, 23, 30, 0, 0, time.UTC), 0}, {at(1, 1, 0), at(12, 31, 23), 364},
	} {
		if got := DaysBetween(c.a, c.b, zone); got != c.want {
			t.Errorf("from %v to %v: %d days, want %d", c.a, c.b, got, c.want)
		}
	}
}
