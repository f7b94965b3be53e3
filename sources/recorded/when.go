package recorded

import (
	"bufio"
	"errors"
	"io"
	"strings"
	"time"
)

var errNoTime = errors.New("not a time of RFC 3339")

// parseTime reads a time of RFC 3339 section 5.6, lower-case t and z and a leap second included. Second 60
// becomes the first second of the next minute, which is what clocks without leap seconds show.
func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err == nil {
		return t, nil
	}
	up := strings.ToUpper(s)
	if len(up) < len("2006-01-02T15:04:05Z") || len(up) != len(s) {
		return t, err
	}
	if up[16:19] != ":60" {
		return time.Parse(time.RFC3339, up)
	}
	t, err = time.Parse(time.RFC3339, up[:17]+"59"+up[19:])
	if err != nil || t.UTC().Hour() != 23 || t.UTC().Minute() != 59 { // leap seconds end a UTC day (section 5.7)
		return t, errNoTime
	}
	return t.Add(time.Second), nil
}

// fastTime reads "2027-01-04T06:50:00Z", the form in which files are written; ok is false for any other, which
// parseTime then judges.
func fastTime(s string) (t time.Time, ok bool) {
	if len(s) != 20 || s[4] != '-' || s[7] != '-' || s[10] != 'T' || s[13] != ':' || s[16] != ':' || s[19] != 'Z' {
		return t, false
	}
	y, m, d := digits(s[0:4]), digits(s[5:7]), digits(s[8:10])
	h, min, sec := digits(s[11:13]), digits(s[14:16]), digits(s[17:19])
	if y < 1 || m < 1 || m > 12 || d < 1 || d > 28 || h < 0 || h > 23 || min < 0 || min > 59 || sec < 0 || sec > 59 {
		return t, false // days 29 to 31 depend on the month
	}
	return time.Date(y, time.Month(m), d, h, min, sec, 0, time.UTC), true
}

// digits is the value of s, or -1.
func digits(s string) int {
	n := 0
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return -1
		}
		n = 10*n + int(s[i]-'0')
	}
	return n
}

// skipBOM drops the byte order mark that spreadsheets put in front.
func skipBOM(r io.Reader) io.Reader {
	b := bufio.NewReaderSize(r, 1<<16)
	if head, _ := b.Peek(3); string(head) == "\ufeff" {
		b.Discard(3)
	}
	return b
}
