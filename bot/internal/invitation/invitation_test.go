package invitation

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-ical"
)

func example() Refill {
	return Refill{Occasion: "main/2027-01-04", Day: time.Date(2027, 5, 21, 12, 0, 0, 0, time.FixedZone("", 2*3600)),
		Now:     time.Date(2027, 5, 16, 9, 30, 0, 0, time.FixedZone("", 2*3600)),
		Summary: "CO2 refill, Linden Row; kitchen, upstairs \\ left",
		Notes: "Full about 25.4 kg: two people or a hand truck.\nUpright, cap on, never in a closed or hot car. " +
			"Ask whether the retest of “Größe 10” still allows a refill; 二酸化炭素の再充填について聞いてください。",
		Place: "Gas yard, +43 1 000 00 00", Reminder: "The refill is booked for tomorrow."}
}

// TestSecondReader: a library that shares nothing with the writer reads back what was meant (RFC 5545).
func TestSecondReader(t *testing.T) {
	r := example()
	c, err := ical.NewDecoder(bytes.NewReader(File(r))).Decode()
	if err != nil {
		t.Fatal(err)
	}
	if got := c.Props.Get("PRODID").Value; got != "-//Tarebell//Tarebell//EN" {
		t.Errorf("made by %q", got)
	}
	if len(c.Events()) != 1 {
		t.Fatalf("%d events, want 1", len(c.Events()))
	}
	e := c.Events()[0]
	for prop, want := range map[string]string{"SUMMARY": r.Summary, "DESCRIPTION": r.Notes, "LOCATION": r.Place} {
		if got, err := e.Props.Text(prop); err != nil || got != want {
			t.Errorf("%s is %q, %v, want %q", prop, got, err, want)
		}
	}
	start, err1 := e.DateTimeStart(time.UTC)
	end, err2 := e.DateTimeEnd(time.UTC)
	if err1 != nil || err2 != nil || start.Format(time.DateOnly) != "2027-05-21" || end.Sub(start) != 24*time.Hour {
		t.Errorf("from %v to %v, %v %v, want all of 2027-05-21", start, end, err1, err2)
	}
	if v := e.Props.Get("DTSTART").ValueType(); v != ical.ValueDate {
		t.Errorf("DTSTART is a %s, want a date", v)
	}
	stamp, err := e.Props.DateTime("DTSTAMP", time.UTC)
	if err != nil || !stamp.Equal(r.Now) {
		t.Errorf("DTSTAMP is %v, %v, want %v", stamp, err, r.Now)
	}
	if len(e.Children) != 1 || e.Children[0].Name != "VALARM" || e.Children[0].Props.Get("TRIGGER").Value != "-PT7H" {
		t.Errorf("children %+v, want one alarm seven hours before", e.Children)
	}
	var again bytes.Buffer
	if err := ical.NewEncoder(&again).Encode(c); err != nil {
		t.Errorf("the second library finds it against the standard: %v", err)
	}
}

// TestLines: lines end in CRLF and have at most 75 octets (RFC 5545, 3.1), whole characters each.
func TestLines(t *testing.T) {
	for _, line := range strings.Split(strings.TrimSuffix(string(File(example())), "\r\n"), "\r\n") {
		if len(line) > 75 || strings.ContainsAny(line, "\r\n") || !strings.HasPrefix(strings.ToValidUTF8(line, "�"), line) {
			t.Errorf("%d octets: %q", len(line), line)
		}
	}
}

// TestMoved: moving the same refill keeps the event and raises its revision.
func TestMoved(t *testing.T) {
	read := func(r Refill) (uid, seq string) {
		c, err := ical.NewDecoder(bytes.NewReader(File(r))).Decode()
		if err != nil {
			t.Fatal(err)
		}
		return c.Events()[0].Props.Get("UID").Value, c.Events()[0].Props.Get("SEQUENCE").Value
	}
	a := example()
	uid, seq := read(a)
	a.Day, a.Revision = a.Day.AddDate(0, 0, 3), 1
	if u, s := read(a); u != uid || s != "1" || seq != "0" {
		t.Errorf("moved: %s %s, want %s and 1", u, s, uid)
	}
	a.Occasion = "main/2027-09-01"
	if u, _ := read(a); u == uid {
		t.Error("another refill has the same UID")
	}
}
