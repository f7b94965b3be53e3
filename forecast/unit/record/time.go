package record

import (
	"errors"
	"strings"
	"time"
)

var errNoTime = errors.New("not a time of RFC 3339")

// ParseTime reads a time of RFC 3339 section 5.6, lower-case t and z and a leap second included, as UTC in whole milliseconds. Second
// 60 becomes the first second of the next minute, which is what clocks without leap seconds show.
func ParseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t, err = unusual(s)
	}
	return t.UTC().Truncate(time.Millisecond), err
}

// unusual reads a time in lower case or with a leap second.
func unusual(s string) (time.Time, error) {
	up := strings.ToUpper(s)
	if len(up) < len("2006-01-02T15:04:05Z") || len(up) != len(s) {
		return time.Time{}, errNoTime
	}
	if up[16:19] != ":60" {
		return time.Parse(time.RFC3339, up)
	}
	t, err := time.Parse(time.RFC3339, up[:17]+"59"+up[19:])
	if err != nil || t.UTC().Hour() != 23 || t.UTC().Minute() != 59 { // leap seconds end a UTC day (section 5.7)
		return t, errNoTime
	}
	return t.Add(time.Second), nil
}

// FormatTime writes t in UTC: whole seconds without a fraction, else milliseconds.
func FormatTime(t time.Time) string {
	if t.Nanosecond()/int(time.Millisecond) == 0 {
		return t.UTC().Format("2006-01-02T15:04:05Z")
	}
	return t.UTC().Format("2006-01-02T15:04:05.000Z")
}
