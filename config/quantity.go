package config

import (
	"errors"
	"regexp"
	"strconv"
	"strings"

	"tarebell/forecast/unit"
)

// measure is one kind of quantity: its units as people write them, each with its size in the base unit.
type measure struct {
	units   []unitSize
	say     string // the units named in messages
	compose bool   // several units in falling order add up, as in 135 lb 6 oz
}

type unitSize struct {
	name string
	size float64
}

// The measures, in grams, litres and pascals. Factors: forecast/unit; 1 in³ is 0.016387064 L exactly.
var (
	mass = measure{[]unitSize{
		{"g", 1}, {"kg", unit.GramsPerKilogram}, {"lb", unit.GramsPerPound}, {"oz", unit.GramsPerOunce},
	}, "g, kg, lb or oz", true}
	volume = measure{[]unitSize{
		{"L", 1}, {"ml", 1e-3}, {"m3", unit.LitresPerCubicMetre}, {"m³", unit.LitresPerCubicMetre},
		{"ft3", unit.LitresPerCubicFoot}, {"ft³", unit.LitresPerCubicFoot}, {"cu ft", unit.LitresPerCubicFoot},
		{"fl oz", unit.LitresPerUSFluidOunce}, {"in3", 0.016387064}, {"in³", 0.016387064}, {"cu in", 0.016387064},
	}, "L, ml, m3, ft3, fl oz or cu in", false}
	pressure = measure{[]unitSize{
		{"bar", unit.PascalsPerBar}, {"kPa", 1e3}, {"MPa", 1e6}, {"psi", unit.PascalsPerPSI},
		{"bara", unit.PascalsPerBar}, {"psia", unit.PascalsPerPSI},
	}, "bar, kPa, MPa or psi (absolute), or barg or psig (gauge)", false}
)

// parse reads "number unit" in the base unit of m.
func (m measure) parse(s string) (float64, error) {
	total, last, rest := 0.0, 0.0, strings.TrimSpace(s)
	for first := true; first || rest != ""; first = false {
		x, after, err := number(rest)
		if err != nil {
			return 0, withUnit(err, m.say)
		}
		name, next := after, ""
		if m.compose {
			name, next = cutUnit(after)
		}
		size, err := m.size(name)
		if err != nil {
			return 0, err
		}
		if !first && (size >= last || x < 0 || x*size >= last) {
			return 0, errors.New("the parts do not add up; write one number with one unit, or like 135 lb 6 oz")
		}
		total, last, rest = total+x*size, size, next
	}
	return total, nil
}

// exponent is that of a number such as 1e3.
var exponent = regexp.MustCompile(`^[-+]?[0-9.,]+[eE][-+]?[0-9]`)

// errNoNumber says that a text does not start with a number.
var errNoNumber = errors.New("want a number")

// withUnit adds to errNoNumber what follows the number.
func withUnit(err error, say string) error {
	if errors.Is(err, errNoNumber) {
		return errors.New("want a number and a unit: " + say)
	}
	return err
}

func (m measure) size(name string) (float64, error) {
	if name == "" {
		return 0, errors.New("no unit; use " + m.say)
	}
	plain := strings.Join(strings.Fields(name), " ")
	for _, u := range m.units {
		if strings.EqualFold(plain, u.name) && plain != "mPa" { // mPa is a thousandth of a pascal
			return u.size, nil
		}
	}
	return 0, errors.New("unknown unit; use " + m.say)
}

// cutUnit splits "lb 6 oz" into "lb" and "6 oz".
func cutUnit(s string) (name, rest string) {
	i := strings.IndexFunc(s, func(r rune) bool { return r >= '0' && r <= '9' || r == '-' || r == '+' })
	if i < 0 {
		return strings.TrimSpace(s), ""
	}
	return strings.TrimSpace(s[:i]), s[i:]
}

// number reads the decimal number at the start of s and returns what follows, trimmed. A comma is a decimal
// comma unless it may separate thousands. Exponents, digit groups, NaN and infinities are not numbers here.
func number(s string) (x float64, rest string, err error) {
	end := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("0123456789.,", r) && r != '-' && r != '+' })
	if end < 0 {
		end = len(s)
	}
	text, rest := s[:end], strings.TrimSpace(s[end:])
	if exponent.MatchString(s) {
		return 0, rest, errors.New("an exponent; want the number written out, like 1500")
	}
	whole, frac, comma := strings.Cut(text, ",")
	switch {
	case text == "" || len(text) > 40:
		return 0, rest, errNoNumber
	case comma && strings.ContainsAny(text, "."), strings.Count(text, ",") > 1:
		return 0, rest, errors.New("two separators in a number; want one like 1234.5")
	case comma && len(frac) == 3 && strings.TrimLeft(whole, "+-0") != "":
		return 0, rest, advice("may be thousands or decimals; want " + whole + "." + frac + " or " + whole + frac)
	}
	x, err = strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return 0, rest, errNoNumber
	}
	return x, rest, nil
}

// bare reads a number that has no unit.
func bare(s string) (float64, error) {
	x, rest, err := number(strings.TrimSpace(s))
	if err == nil && rest != "" {
		err = errors.New("want a number alone")
	}
	return x, err
}

func parseMass(s string) (unit.Grams, error) {
	g, err := mass.parse(s)
	return unit.Grams(g), err
}

func parseVolume(s string) (unit.Litres, error) {
	l, err := volume.parse(s)
	return unit.Litres(l), err
}

// parseLitres also takes a bare number.
func parseLitres(s string) (unit.Litres, error) {
	if x, err := bare(s); err == nil {
		return unit.Litres(x), nil
	}
	return parseVolume(s)
}

// parsePressure gives absolute pressure; barg and psig are above one standard atmosphere.
func parsePressure(s string) (unit.Pascals, error) {
	above := 0.0
	if t := strings.TrimSpace(s); strings.HasSuffix(t, "g") {
		s, above = strings.TrimSuffix(t, "g"), unit.PascalsPerAtmosphere
	}
	p, err := pressure.parse(s)
	if err != nil {
		return 0, err
	}
	return unit.Pascals(p + above), nil
}

func parseTemperature(s string) (unit.Celsius, error) {
	x, name, err := number(strings.TrimSpace(s))
	if err != nil {
		return 0, withUnit(err, "C or F")
	}
	switch strings.ToLower(strings.TrimPrefix(name, "°")) {
	case "c":
		return unit.Celsius(x), nil
	case "f":
		return unit.Fahrenheit(x), nil
	case "":
		return 0, errors.New("no unit; use C or F")
	}
	return 0, errors.New("unknown unit; use C or F")
}

// parseClimate reads two temperatures, of which the first may borrow the unit of the second: "-10 to 40 C".
func parseClimate(s string) (c Climate, err error) {
	from, to, ok := strings.Cut(s, " to ")
	if !ok {
		return c, errors.New("want the coldest and the hottest with a “to” between")
	}
	if c.To, err = parseTemperature(to); err != nil {
		return c, err
	}
	if _, name, err := number(strings.TrimSpace(from)); err == nil && name == "" {
		from += strings.TrimLeft(strings.TrimSpace(to), "-+0123456789. ")
	}
	if c.From, err = parseTemperature(from); err != nil {
		return c, err
	}
	if c.From >= c.To || c.From < -60 || c.To > 100 {
		return c, errors.New("want the colder one first, between -60 C and 100 C")
	}
	return c, nil
}

// parseRisk reads a percentage and gives a probability.
func parseRisk(s string) (float64, error) {
	x, name, err := number(strings.TrimSpace(s))
	switch {
	case err != nil:
		return 0, withUnit(err, "%")
	case name != "%":
		return 0, errors.New("want a percentage, with its percent sign")
	case x < 0.1 || x > 50:
		return 0, errors.New("want 0.1% to 50%")
	}
	return x / 100, nil
}

// parsePPM reads a fraction of air in parts per million; the unit may be left out.
func parsePPM(s string) (unit.PPM, error) {
	x, name, err := number(strings.TrimSpace(s))
	switch {
	case err != nil:
		return 0, withUnit(err, "ppm")
	case name != "" && !strings.EqualFold(name, "ppm"):
		return 0, errors.New("unknown unit; use ppm")
	case x < 600 || x > 40000: // fresh air holds about 420 ppm; 40,000 ppm is NIOSH's IDLH
		return 0, errors.New("want 600 to 40000 ppm")
	}
	return unit.PPM(x), nil
}
