package app

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"tarebell/forecast"
	"tarebell/sources"
)

func failure(kind sources.Kind, read string) error { return &sources.Failure{Kind: kind, Read: read} }

// TestOneLineForOneTrouble: texts that vary are one trouble; one that comes and goes is not logged for ever.
func TestOneLineForOneTrouble(t *testing.T) {
	at := time.Date(2027, 3, 1, 12, 0, 0, 0, time.UTC)
	var d devices
	lines := 0
	for i := range 1000 {
		if tell, _ := d.note("main", at, failure(sources.Unreadable, fmt.Sprint("answer ", i))); tell {
			lines++
		}
		at = at.Add(time.Second)
	}
	if lines != 1 {
		t.Errorf("%d lines for one kind of failure", lines)
	}
	lines, spared := 0, 0
	for i := range 24 * 60 {
		err := failure(sources.Unreachable, "gone")
		if i%2 == 0 {
			err = nil
		}
		tell, hushed := d.note("main", at, err)
		if tell {
			lines, spared = lines+1, spared+hushed
		}
		at = at.Add(time.Minute)
	}
	if most := logBurst + 48; lines > most || lines < 40 {
		t.Errorf("%d lines in a day of one that comes and goes, want at most %d", lines, most)
	}
	if spared+lines < 24*60*9/10 {
		t.Errorf("%d changes are told of in %d lines, of %d", spared, lines, 24*60)
	}
	if tell, _ := d.note("main", at.Add(time.Hour), errors.New("no space left")); !tell || d.health()["main"].Error != "no space left" {
		t.Error("another kind is not told")
	}
}

// TestPacer: a failure is followed by a short wait that grows to the usual one; what the device asks for counts, within bounds.
func TestPacer(t *testing.T) {
	p := newPacer(10*time.Minute, mostAfter)
	within := func(what string, got, from, to time.Duration) {
		t.Helper()
		if got < from || got > to {
			t.Errorf("%s: %v, want %v to %v", what, got, from, to)
		}
	}
	gone := failure(sources.Unreachable, "gone")
	within("the first failure", p.next(gone, forecast.Usual), 3*time.Second, 7*time.Second)
	within("the second", p.next(gone, forecast.Usual), 7*time.Second, 13*time.Second)
	for range 10 {
		p.next(gone, forecast.Usual)
	}
	within("the thirteenth", p.next(gone, forecast.Usual), 7*time.Minute, 11*time.Minute)
	within("well again", p.next(nil, forecast.Usual), 9*time.Minute, 11*time.Minute)
	within("and gone", p.next(gone, forecast.Usual), 3*time.Second, 7*time.Second)
	within("a full ledger", p.next(errors.New("no space left"), forecast.Usual), 9*time.Minute, 11*time.Minute)
	p = newPacer(time.Second, mostAfter)
	within("a wait that was asked for", p.next(&sources.Failure{Kind: sources.Refused, After: 2 * time.Minute}, forecast.Usual), 2*time.Minute, 2*time.Minute)
	within("one without measure", p.next(&sources.Failure{Kind: sources.Refused, After: 1e6 * time.Hour}, forecast.Usual), mostAfter, mostAfter)
	within("of a quick scale", p.next(gone, forecast.Usual), time.Second*3/4, time.Second*5/4)
	within("of a monitor", newPacer(time.Minute, mostAfterAir).next(&sources.Failure{After: time.Hour}, forecast.Usual), mostAfterAir, mostAfterAir)
}
