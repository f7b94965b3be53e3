package config

import (
	"errors"
	"strings"

	"tarebell/forecast/unit"
)

// bare reads a number that has no unit.
func bare(s string) (float64, error) {
	x, rest, err := unit.ParseNumber(s)
	if err == nil && rest != "" {
		err = errors.New("want a number alone")
	}
	return x, err
}

// between reads a value from lo to hi.
func between[T ~float64](parse func(string) (T, error), lo, hi T, want string) func(string) (T, error) {
	return func(s string) (T, error) {
		x, err := parse(s)
		if err == nil && (x < lo || x > hi) {
			err = advice("want " + want)
		}
		return x, err
	}
}

// parseLitres also takes a bare number.
func parseLitres(s string) (unit.Litres, error) {
	if x, err := bare(s); err == nil {
		return unit.Litres(x), nil
	}
	return unit.ParseVolume(s)
}

// parseClimate reads two temperatures, of which the first may borrow the unit of the second: "-10 to 40 C".
func parseClimate(s string) (c Climate, err error) {
	from, to, ok := strings.Cut(s, " to ")
	if !ok {
		return c, errors.New("want the coldest and the hottest with a “to” between")
	}
	if c.To, err = unit.ParseTemperature(to); err != nil {
		return c, err
	}
	if _, name, err := unit.ParseNumber(from); err == nil && name == "" {
		from += strings.TrimLeft(strings.TrimSpace(to), "-+0123456789. ")
	}
	if c.From, err = unit.ParseTemperature(from); err != nil {
		return c, err
	}
	if c.From >= c.To || c.From < -60 || c.To > 100 {
		return c, errors.New("want the colder one first, between -60 C and 100 C")
	}
	return c, nil
}

// parseRisk reads a percentage and gives a probability.
func parseRisk(s string) (float64, error) {
	x, name, err := unit.ParseNumber(s)
	switch {
	case err != nil:
		return 0, unit.WithUnits(err, "%")
	case name != "%":
		return 0, errors.New("want a percentage, with its percent sign")
	case x < 0.1 || x > 50:
		return 0, errors.New("want 0.1% to 50%")
	}
	return x / 100, nil
}

// fractions are parts per million; the unit may be left out.
var fractions = unit.Sizes{Names: "ppm", Of: map[string]float64{"ppm": 1, "": 1}}

func parsePPM(s string) (unit.PPM, error) {
	x, err := fractions.Parse(s)
	if err == nil && (x < 600 || x > 40000) { // fresh air holds about 420 ppm; 40,000 ppm is NIOSH's IDLH
		err = errors.New("want 600 to 40000 ppm")
	}
	return unit.PPM(x), err
}
