package command

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"tarebell/forecast/unit"
)

// splitPairs cuts at ; and at commas that are followed by a blank, so that decimal commas survive.
func splitPairs(text string) []string {
	var out []string
	for _, part := range strings.FieldsFunc(strings.ReplaceAll(text, ", ", ";"), func(r rune) bool { return r == ';' || r == '\n' }) {
		if part = strings.TrimSpace(part); part != "" {
			out = append(out, part)
		}
	}
	return out
}

var pairForm = regexp.MustCompile(`^([0-9]+(?:[.,][0-9]+)?) *([A-Za-z]*) *(?:>|->|→|to) *([0-9]+(?:[.,][0-9]+)?) *([A-Za-z]*)$`)

// pair reads "1012.4 > 1018.5 g": two masses in one unit, and the step of the scale as it was written.
func pair(text string, usual unit.Grams) (before, after, step unit.Grams, err error) {
	m := pairForm.FindStringSubmatch(text)
	if m == nil {
		return 0, 0, 0, &Problem{fmt.Sprintf("“%s” is not a weight before and one after.", text), "Write it like 1012.4 > 1018.5 g."}
	}
	size := usual
	switch {
	case m[4] != "" && m[2] != "" && m[2] != m[4]:
		return 0, 0, 0, &Problem{fmt.Sprintf("“%s” is in two units.", text), "Write both weights in the same unit."}
	case m[4] != "":
		size, err = unit.MassUnit(m[4])
	case m[2] != "":
		size, err = unit.MassUnit(m[2])
	}
	if err != nil {
		return 0, 0, 0, &Problem{fmt.Sprintf("“%s” is in no unit I know.", text), "Use " + unit.MassUnits + "."}
	}
	a, err1 := decimal(m[1])
	b, err2 := decimal(m[3])
	if err1 != nil || err2 != nil {
		return 0, 0, 0, &Problem{fmt.Sprintf("“%s” cannot be read.", text), "Write it like 1012.4 > 1018.5 g."}
	}
	places := max(decimals(m[1]), decimals(m[3]))
	return unit.Grams(a) * size, unit.Grams(b) * size, size * unit.Grams(math.Pow10(-places)), nil
}

func decimal(text string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
}

func decimals(number string) int {
	i := strings.IndexAny(number, ".,")
	if i < 0 {
		return 0
	}
	return len(number) - i - 1
}

var quantity = regexp.MustCompile(`^(-?[0-9]+(?:[.,][0-9]+)?) *°? *([A-Za-z]*)$`)

func (d *Desk) temperature(text string) (unit.Celsius, error) {
	wrong := &Problem{fmt.Sprintf("“%s” is not a temperature of water.", text), "Write it like 5 C or 41 F; it needs both water and pressure."}
	m := quantity.FindStringSubmatch(text)
	if m == nil {
		return 0, wrong
	}
	n, err := decimal(m[1])
	switch u := strings.ToUpper(m[2]); {
	case err != nil:
		return 0, wrong
	case u == "F" || u == "" && d.opt.Voice.US:
		return unit.Fahrenheit(n), nil
	case u == "C" || u == "":
		return unit.Celsius(n), nil
	}
	return 0, wrong
}

// pressures are the units of pressure in Pa, as in the config: absolute, and with a g gauge, which is above one atmosphere.
var pressures = map[string]float64{"bar": unit.PascalsPerBar, "psi": unit.PascalsPerPSI, "kpa": 1e3, "mpa": 1e6}

// pressure reads an absolute or a gauge pressure and makes it absolute.
func (d *Desk) pressure(text string) (unit.Pascals, error) {
	wrong := &Problem{fmt.Sprintf("“%s” is not a pressure with its unit.", text),
		"Write what the gauge shows like 4 barg or 60 psig, an absolute pressure like 5 bar or 75 psi; it needs both water and pressure."}
	m := quantity.FindStringSubmatch(text)
	if m == nil {
		return 0, wrong
	}
	n, err := decimal(m[1])
	name := strings.ToLower(m[2])
	above, gauge := strings.CutSuffix(name, "g")
	size, ok := pressures[strings.TrimSuffix(above, "a")]
	if err != nil || n < 0 || !ok {
		return 0, wrong
	}
	p := unit.Pascals(n * size)
	if gauge {
		p += unit.PascalsPerAtmosphere
	}
	return p, nil
}
