package recorded

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"tarebell/forecast/unit"
	"tarebell/sources"
)

// ReadEvent reads the value of an event of some kind, as it stands in a file, into a new Event without a time.
func ReadEvent(kind Kind, value string) (Event, error) {
	e := Event{Kind: kind, Value: value}
	parse, known := values[kind]
	if !known {
		return e, fmt.Errorf("event %q: unknown", kind)
	}
	if err := parse(&e, strings.TrimSpace(value)); err != nil {
		return e, fmt.Errorf("event %q, value %q: %w", kind, value, err)
	}
	return e, nil
}

// values read the value of each kind into its fields.
var values = map[Kind]func(e *Event, s string) error{
	Filled:   (*Event).filled,
	Made:     (*Event).made,
	Away:     (*Event).away,
	Valve:    (*Event).valve,
	Booked:   (*Event).booked,
	RanDry:   (*Event).nothing,
	Unbooked: (*Event).nothing,
	Mine:     (*Event).nothing,
	Later:    (*Event).nothing,
	Answer:   (*Event).answer,

	Serving:    (*Event).serving,
	InUse:      (*Event).inUse,
	Calibrated: (*Event).nothing,
	CheckLater: (*Event).nothing,
	Afresh:     (*Event).afresh,
	Absent:     (*Event).away,
	Air:        (*Event).air,
}

// maxFill is more than any cylinder a household can move holds.
const maxFill unit.Grams = 200_000

// filled reads "9.07 kg", "9.07 kg tare 14.30 kg", "tare 14.30 kg" or nothing, each with what was paid: "9.07 kg price 42 EUR".
func (e *Event) filled(s string) error {
	want := errors.New("want the net mass on the receipt with its unit, for example 9.07 kg, or nothing; after a swap add its tare: 9.07 kg tare 14.30 kg; then what was paid: price 42.50 EUR")
	s, paid, priced := strings.Cut(s, "price")
	if priced && !e.price(strings.TrimSpace(paid)) {
		return want
	}
	net, tare, swapped := strings.Cut(s, "tare")
	for _, m := range []struct {
		text string
		need bool
		dst  *unit.Grams
	}{{strings.TrimSpace(net), false, &e.Net}, {strings.TrimSpace(tare), swapped, &e.Tare}} {
		if m.text == "" && !m.need {
			continue
		}
		g, ok := parseMass(m.text)
		if !ok || g <= 0 || g > maxFill {
			return want
		}
		*m.dst = g
	}
	return nil
}

var massPart = regexp.MustCompile(`^([0-9]+(?:\.[0-9]+)?) *([A-Za-z]+) *`)

// parseMass reads "9.07 kg" or, in falling units, "20 lb 3 oz".
func parseMass(s string) (unit.Grams, bool) {
	total, last := unit.Grams(0), unit.Grams(math.Inf(1))
	for first := true; first || s != ""; first = false {
		m := massPart.FindStringSubmatch(s)
		if m == nil {
			return 0, false
		}
		x, err := strconv.ParseFloat(m[1], 64)
		size, known := sources.MassUnit(m[2])
		if err != nil || !known || size >= last {
			return 0, false
		}
		total, last, s = total+sources.Mass(x, size), size, s[len(m[0]):]
	}
	return total, true
}

func (e *Event) made(s string) error {
	n, err := strconv.ParseFloat(s, 64)
	if err != nil || !plain(s) || n <= 0 || n > 10_000 {
		return errors.New("want how many servings, for example 3")
	}
	e.Count = n
	return nil
}

func (e *Event) away(s string) error {
	t, err := parseTime(s)
	if err != nil {
		if t, err = time.Parse(time.DateOnly, s); err != nil {
			return errors.New("want until when, for example 2027-03-05T18:00:00Z")
		}
	}
	e.Until = t.UTC().Truncate(time.Millisecond)
	return nil
}

func (e *Event) valve(s string) error {
	if s != "open" && s != "closed" {
		return errors.New("want open or closed")
	}
	e.Open = s == "open"
	return nil
}

func (e *Event) booked(s string) error {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		if t, err = parseTime(s); err != nil {
			return errors.New("want the day, for example 2027-03-05")
		}
	}
	y, m, d := t.Date()
	e.Day = time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	return nil
}

func (e *Event) afresh(s string) error {
	g, ok := parseMass(s)
	if !ok || g <= 0 {
		return errors.New("want what the scale says with its unit, for example 24.6 kg")
	}
	e.Gross = g
	return nil
}

func (e *Event) nothing(s string) error {
	if s != "" {
		return errors.New("want nothing after " + string(e.Kind))
	}
	return nil
}

// causes are what a household can say a finding was.
var causes = []string{"unknown", "used", "lost", "repaired", "moved"}

// answer reads "lost", or "lost about 2027-03-05T02:10:00Z" when it is told what the answer is about.
func (e *Event) answer(s string) error {
	cause, about, dated := strings.Cut(s, " about ")
	if !slices.Contains(causes, cause) {
		return errors.New("want " + strings.Join(causes, ", "))
	}
	e.Cause = cause
	if !dated {
		return nil
	}
	t, err := parseTime(about)
	if err != nil {
		return errors.New("want " + cause + " about a time, for example 2027-03-05T02:10:00Z")
	}
	e.About = t.UTC().Truncate(time.Millisecond)
	return nil
}

// Text is the value of e made from its fields.
func (e Event) Text() string {
	switch e.Kind {
	case Filled:
		var parts []string
		if e.Net > 0 {
			parts = append(parts, kilograms(e.Net)+" kg")
		}
		if e.Tare > 0 {
			parts = append(parts, "tare "+kilograms(e.Tare)+" kg")
		}
		if e.Paid != "" {
			parts = append(parts, "price "+e.Paid+" "+e.Currency)
		}
		return strings.Join(parts, " ")
	case Made:
		return strconv.FormatFloat(e.Count, 'f', -1, 64)
	case Away, Absent:
		return string(appendTime(nil, e.Until))
	case Valve:
		if e.Open {
			return "open"
		}
		return "closed"
	case Booked:
		return e.Day.Format(time.DateOnly)
	case Answer:
		if !e.About.IsZero() {
			return e.Cause + " about " + string(appendTime(nil, e.About))
		}
		return e.Cause
	case Serving:
		return e.servingText()
	case Air:
		return e.airText()
	case InUse:
		return e.Instead
	case Afresh:
		return kilograms(e.Gross) + " kg"
	}
	return ""
}
