package record

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// codec reads the value of one kind of event into its fields, and writes it.
type codec struct {
	read  func(e *Event, s string) error
	write func(e Event) string
}

// codecs are those of all kinds but Weighed, which has columns of its own.
var codecs = map[Kind]codec{
	Filled: {readFilled, writeFilled},
	Made:   {readMade, func(e Event) string { return exactly(e.Count) }},
	Away:   {readUntil, writeUntil},
	Valve:  {readValve, writeValve},
	Booked: {readDay, func(e Event) string { return e.Day.Format(time.DateOnly) }},
	RanDry: nothing,

	Unbooked: nothing,
	Mine:     nothing,
	Later:    nothing,
	Answer:   {readAnswer, writeAnswer},

	Serving:    {readServing, writeServing},
	InUse:      {readInstead, func(e Event) string { return e.Instead }},
	Calibrated: nothing,
	CheckLater: nothing,
	Afresh:     {readGross, func(e Event) string { return kilograms(e.Gross) }},
	Absent:     {readUntil, writeUntil},
	Air:        {readAir, func(e Event) string { return exactly(float64(e.PPM)) + " ppm" }},
}

// ErrKind says that there is no such kind of event.
var ErrKind = errors.New("unknown event; use filled, made, away, valve, booked or ran-dry")

// Read reads the value of an event of some kind, as it comes about: what the air is like a monitor says, all else somebody. The error says
// what would be right.
func Read(kind Kind, value string) (Event, error) {
	e := Event{Kind: kind, Origin: Manual}
	if kind == Air {
		e.Origin = Scale
	}
	c, known := codecs[kind]
	if !known {
		return e, ErrKind
	}
	return e, c.read(&e, strings.TrimSpace(value))
}

// Value is the text of what e says, as Read takes it; "" for a weighing.
func (e Event) Value() string {
	if c, known := codecs[e.Kind]; known {
		return c.write(e)
	}
	return ""
}

// Kept is e as it will be read back from the ledger, or what makes it no event: masses to the milligram, weighings to the microgram and
// the ten-thousandth of a degree, times in UTC to the millisecond.
func (e Event) Kept() (Event, error) {
	e.At = e.At.UTC().Truncate(time.Millisecond)
	if e.At.IsZero() {
		return e, fmt.Errorf("%s has no time", e.Kind)
	}
	if e.Kind == Weighed {
		g, t := float64(e.Gross), float64(e.Temp)
		if math.IsNaN(g+t) || math.IsInf(g+t, 0) {
			return e, fmt.Errorf("gross %v g at %v °C is no weighing", g, t)
		}
		e.Gross, e.Temp = unit.MassOf(g, 1), unit.Celsius(math.Round(t*1e4)/1e4)
		return e, nil
	}
	value := e.Value()
	kept, err := Read(e.Kind, value)
	if err != nil {
		return e, fmt.Errorf("event %q, value %q: %w", e.Kind, value, err)
	}
	kept.At, kept.Cylinder, kept.By, kept.Origin = e.At, e.Cylinder, e.By, e.Origin
	return kept, nil
}

var nothing = codec{
	func(e *Event, s string) error {
		if s != "" {
			return fmt.Errorf("want nothing after %s", e.Kind)
		}
		return nil
	},
	func(Event) string { return "" },
}

// kilograms writes m in kg with at least grams, at most milligrams.
func kilograms(m unit.Grams) string { return unit.Number(m.Kilograms(), 3, 6) + " kg" }

// exactly writes a number with all its digits.
func exactly(x float64) string { return unit.Number(x, 0, -1) }

// quantity reads a number that is followed by this unit, in (0, most].
func quantity(s, name string, most float64) (float64, bool) {
	x, rest, err := unit.ParseNumber(s)
	return x, err == nil && rest == name && x > 0 && x <= most
}

// maxFill is more than any cylinder a household can move holds.
const maxFill unit.Grams = 200_000

var errFilled = errors.New("want the net mass on the receipt with its unit, for example 9.07 kg, or nothing; after a swap add its tare: 9.07 kg tare 14.30 kg; then what was paid: price 42.50 EUR")

// readFilled reads "9.07 kg tare 14.30 kg price 42.50 EUR", of which every part may be missing.
func readFilled(e *Event, s string) error {
	s, price, priced := strings.Cut(s, "price")
	net, tare, swapped := strings.Cut(s, "tare")
	var err error
	if net = strings.TrimSpace(net); net != "" {
		e.Net, err = fillMass(net)
	}
	if swapped && err == nil {
		e.Tare, err = fillMass(tare)
	}
	if priced && err == nil {
		e.Price, err = readPrice(strings.TrimSpace(price))
	}
	return err
}

func fillMass(s string) (unit.Grams, error) {
	g, err := unit.ParseMass(s)
	if err != nil || g <= 0 || g > maxFill {
		return 0, errFilled
	}
	return g, nil
}

func readPrice(s string) (unit.Money, error) {
	amount, code, ok := strings.Cut(s, " ")
	m, err := unit.ParseMoney(amount, code)
	if !ok || m.Minor() < 0 || code != strings.ToUpper(code) {
		return unit.Money{}, errFilled
	}
	return m, err
}

func writeFilled(e Event) string {
	var parts []string
	if e.Net > 0 {
		parts = append(parts, kilograms(e.Net))
	}
	if e.Tare > 0 {
		parts = append(parts, "tare "+kilograms(e.Tare))
	}
	if e.Price.Known() {
		parts = append(parts, "price "+e.Price.String())
	}
	return strings.Join(parts, " ")
}

func readMade(e *Event, s string) error {
	n, ok := quantity(s, "", 10_000)
	if !ok {
		return errors.New("want how many servings, for example 3")
	}
	e.Count = n
	return nil
}

// readUntil reads a time, or a day for its midnight in UTC.
func readUntil(e *Event, s string) (err error) {
	if e.Until, err = ParseTime(s); err != nil {
		e.Until, err = time.Parse(time.DateOnly, s)
	}
	if err != nil {
		return errors.New("want until when, for example 2027-03-05T18:00:00Z")
	}
	return nil
}

func writeUntil(e Event) string { return FormatTime(e.Until) }

func readValve(e *Event, s string) error {
	if s != "open" && s != "closed" {
		return errors.New("want open or closed")
	}
	e.Open = s == "open"
	return nil
}

func writeValve(e Event) string {
	if e.Open {
		return "open"
	}
	return "closed"
}

// readDay reads a day, or that of a time where it was written. It becomes noon in UTC, which is the same day in nearly every zone.
func readDay(e *Event, s string) error {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		t, err = time.Parse(time.RFC3339, strings.ToUpper(s))
	}
	if err != nil {
		return errors.New("want the day, for example 2027-03-05")
	}
	y, m, d := t.Date()
	e.Day = time.Date(y, m, d, 12, 0, 0, 0, time.UTC)
	return nil
}

var causes = []string{string(Unknown), string(Used), string(Lost), string(Repaired), string(Moved)}

// readAnswer reads "lost", or "lost about 2027-03-05T02:10:00Z" when it is known what the answer is about.
func readAnswer(e *Event, s string) (err error) {
	cause, about, dated := strings.Cut(s, " about ")
	if !slices.Contains(causes, cause) {
		return errors.New("want " + mistake.Join(causes, "or"))
	}
	e.Cause = Cause(cause)
	if !dated {
		return nil
	}
	if e.About, err = ParseTime(about); err != nil {
		return errors.New("want " + cause + " about a time, for example 2027-03-05T02:10:00Z")
	}
	return nil
}

func writeAnswer(e Event) string {
	if e.About.IsZero() {
		return string(e.Cause)
	}
	return string(e.Cause) + " about " + FormatTime(e.About)
}

// readServing reads "6.1 g 0.84 L": the gas and the drink of one serving; "6.1 g" leaves the drink as it was.
func readServing(e *Event, s string) error {
	gas, drink, some := strings.Cut(s, " g")
	co2, ok := quantity(gas, "", 1000)
	litres, drinkOK := quantity(drink, "L", 100)
	if !some || !ok || drink != "" && !drinkOK {
		return errors.New("want the gas and the drink of one serving, for example 6.1 g 0.84 L")
	}
	e.CO2 = unit.Grams(co2)
	if drink != "" {
		e.Litres = unit.Litres(litres)
	}
	return nil
}

func writeServing(e Event) string {
	text := exactly(float64(e.CO2)) + " g"
	if e.Litres > 0 {
		text += " " + exactly(float64(e.Litres)) + " L"
	}
	return text
}

func readInstead(e *Event, s string) error {
	if len(s) > 200 {
		return errors.New("want the name of the cylinder whose place it takes, or nothing")
	}
	e.Instead = s
	return nil
}

func readGross(e *Event, s string) error {
	g, err := unit.ParseMass(s)
	if err != nil || g <= 0 {
		return errors.New("want what the scale says with its unit, for example 24.6 kg")
	}
	e.Gross = g
	return nil
}

// readAir reads "5200 ppm", what a CO2 monitor beside the cylinder showed.
func readAir(e *Event, s string) error {
	x, ok := quantity(s, "ppm", 1e6)
	if !ok && s != "0 ppm" {
		return errors.New("want what the CO2 monitor showed, for example 5200 ppm")
	}
	e.PPM = unit.PPM(x)
	return nil
}
