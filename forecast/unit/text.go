package unit

import (
	"errors"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// The units as people write them, for messages.
const (
	MassUnits        = "g, kg, lb or oz"
	VolumeUnits      = "L, ml, m3, ft3, fl oz or cu in"
	PressureUnits    = "bar, kPa, MPa or psi (absolute), or barg or psig (gauge)"
	TemperatureUnits = "C or F"
)

// Sizes are the units of one quantity by lower-case name, each in the quantity's own unit.
type Sizes struct {
	Names string // as errors list them
	Of    map[string]float64
}

// 1 in³ is 0.016387064 L exactly; the other factors stand in unit.go.
var (
	masses  = Sizes{MassUnits, map[string]float64{"g": 1, "kg": GramsPerKilogram, "lb": GramsPerPound, "lbs": GramsPerPound, "oz": GramsPerOunce}}
	volumes = Sizes{VolumeUnits, map[string]float64{"l": 1, "ml": 1e-3, "m3": LitresPerCubicMetre, "m³": LitresPerCubicMetre,
		"ft3": LitresPerCubicFoot, "ft³": LitresPerCubicFoot, "cu ft": LitresPerCubicFoot,
		"fl oz": LitresPerUSFluidOunce, "in3": 0.016387064, "in³": 0.016387064, "cu in": 0.016387064}}
	pressures = Sizes{PressureUnits, map[string]float64{"bar": PascalsPerBar, "bara": PascalsPerBar, "kpa": 1e3, "mpa": 1e6, "psi": PascalsPerPSI, "psia": PascalsPerPSI}}
)

// Parse reads a number with one of the units, such as "14.9 L". "" among the units means that it may be left out.
func (s Sizes) Parse(text string) (float64, error) {
	x, name, err := ParseNumber(text)
	if err != nil {
		return 0, WithUnits(err, s.Names)
	}
	size, err := s.find(name)
	return x * size, err
}

// find is the size of a named unit.
func (s Sizes) find(name string) (float64, error) {
	name = strings.Join(strings.Fields(name), " ")
	size, ok := s.Of[strings.ToLower(name)]
	switch {
	case ok && name != "mPa": // a thousandth of a pascal
		return size, nil
	case name == "":
		return 0, errors.New("no unit; use " + s.Names)
	}
	return 0, errors.New("unknown unit; use " + s.Names)
}

// MassUnit is one of a named unit of mass; upper and lower case are the same.
func MassUnit(name string) (Grams, error) {
	size, err := masses.find(name)
	return Grams(size), err
}

// MassOf is x times a unit's size to the nearest microgram, so that 1.001 kg is 1001 g: in floating point 1.001 times 1000 is not.
func MassOf(x float64, size Grams) Grams { return Grams(math.Round(x*float64(size)*1e6) / 1e6) }

// ParseMass reads a number with its unit, "9.07 kg", or several in falling units, "135 lb 6 oz".
func ParseMass(s string) (Grams, error) {
	total, last, rest := Grams(0), Grams(0), strings.TrimSpace(s)
	for first := true; first || rest != ""; first = false {
		x, after, err := ParseNumber(rest)
		if err != nil {
			return 0, WithUnits(err, MassUnits)
		}
		name, next := cutUnit(after)
		size, err := MassUnit(name)
		if err != nil {
			return 0, err
		}
		if !first && (size >= last || x < 0 || Grams(x)*size >= last) {
			return 0, errors.New("the parts do not add up; write one number with one unit, or like 135 lb 6 oz")
		}
		total, last, rest = total+MassOf(x, size), size, next
	}
	return total, nil
}

// cutUnit splits "lb 6 oz" into "lb" and "6 oz".
func cutUnit(s string) (name, rest string) {
	i := strings.IndexFunc(s, func(r rune) bool { return r >= '0' && r <= '9' || r == '-' || r == '+' })
	if i < 0 {
		return strings.TrimSpace(s), ""
	}
	return strings.TrimSpace(s[:i]), s[i:]
}

// ParseVolume reads a number with its unit, such as "14.9 L" or "38 m3".
func ParseVolume(s string) (Litres, error) {
	x, err := volumes.Parse(s)
	return Litres(x), err
}

// ParsePressure reads a number with its unit as absolute pressure; barg, psig and the like are above one standard atmosphere.
func ParsePressure(s string) (Pascals, error) {
	x, name, err := ParseNumber(s)
	if err != nil {
		return 0, WithUnits(err, PressureUnits)
	}
	name, gauge := strings.CutSuffix(name, "g")
	size, err := pressures.find(name)
	p := Pascals(x * size)
	if gauge {
		p += PascalsPerAtmosphere
	}
	return p, err
}

// ParseTemperature reads degrees Celsius or Fahrenheit, such as "20 C" or "-40 °F".
func ParseTemperature(s string) (Celsius, error) {
	x, name, err := ParseNumber(s)
	if err != nil {
		return 0, WithUnits(err, TemperatureUnits)
	}
	switch strings.ToLower(strings.TrimPrefix(name, "°")) {
	case "c":
		return Celsius(x), nil
	case "f":
		return Fahrenheit(x), nil
	case "":
		return 0, errors.New("no unit; use " + TemperatureUnits)
	}
	return 0, errors.New("unknown unit; use " + TemperatureUnits)
}

// ErrNoNumber says that a text does not begin with a number.
var ErrNoNumber = errors.New("want a number")

// WithUnits adds to ErrNoNumber the units that belong after the number.
func WithUnits(err error, units string) error {
	if errors.Is(err, ErrNoNumber) {
		return errors.New("want a number and a unit: " + units)
	}
	return err
}

// Ambiguous says that a number can be read in two ways, and which.
type Ambiguous string

// Error is the text itself.
func (a Ambiguous) Error() string { return string(a) }

// exponent is that of a number such as 1e3.
var exponent = regexp.MustCompile(`^[-+]?[0-9.,]+[eE][-+]?[0-9]`)

// ParseNumber reads the decimal number at the start of s and returns what follows, trimmed. A comma is a decimal comma unless it may
// separate thousands. Exponents, digit groups, NaN and infinities are not numbers here.
func ParseNumber(s string) (x float64, rest string, err error) {
	s = strings.TrimSpace(s)
	end := strings.IndexFunc(s, func(r rune) bool { return !strings.ContainsRune("0123456789.,-+", r) })
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
		return 0, rest, ErrNoNumber
	case comma && strings.ContainsAny(text, "."), strings.Count(text, ",") > 1:
		return 0, rest, errors.New("two separators in a number; want one like 1234.5")
	case comma && len(frac) == 3 && strings.TrimLeft(whole, "+-0") != "":
		return 0, rest, Ambiguous("may be thousands or decimals; want " + whole + "." + frac + " or " + whole + frac)
	}
	x, err = strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return 0, rest, ErrNoNumber
	}
	return x, rest, nil
}

// Number writes x with at least and at most so many decimals, without zeros at the end that say nothing.
func Number(x float64, least, most int) string {
	s := strconv.FormatFloat(x, 'f', most, 64)
	point, end := strings.IndexByte(s, '.'), len(s)
	for point >= 0 && end > point+1+least && s[end-1] == '0' {
		end--
	}
	if s = strings.TrimSuffix(s[:end], "."); strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}
