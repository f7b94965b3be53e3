package command

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tarebell/forecast/unit"
)

// splitList cuts at ; and at commas that are followed by a blank, so that decimal commas survive.
func splitList(text string) []string {
	parts := strings.FieldsFunc(strings.ReplaceAll(text, ", ", ";"), func(r rune) bool { return r == ';' || r == '\n' })
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return slices.DeleteFunc(parts, func(p string) bool { return p == "" })
}

var pairForm = regexp.MustCompile(`^(\d{1,9}(?:[.,](\d{1,9}))?) *([A-Za-z]*) *(?:>|->|→|to) *(\d{1,9}(?:[.,](\d{1,9}))?) *([A-Za-z]*)$`)

// pair reads "1012.4 > 1018.5 g": two masses in one unit, and the step of the scale as it was written.
func pair(text string, usual unit.Grams) (before, after, step unit.Grams, err error) {
	m := pairForm.FindStringSubmatch(text)
	if m == nil {
		return 0, 0, 0, &Problem{fmt.Sprintf("“%s” is not a weight before and one after.", text), "Write it like 1012.4 > 1018.5 g."}
	}
	size, name := usual, cmp.Or(m[3], m[6])
	if m[6] != "" && m[6] != name {
		return 0, 0, 0, &Problem{fmt.Sprintf("“%s” is in two units.", text), "Write both weights in the same unit."}
	}
	if name != "" {
		if size, err = unit.MassUnit(name); err != nil {
			return 0, 0, 0, unknownUnit(text)
		}
	}
	a, errA := decimal(m[1])
	b, errB := decimal(m[4])
	places := max(len(m[2]), len(m[5]))
	return unit.Grams(a) * size, unit.Grams(b) * size, size * unit.Grams(math.Pow10(-places)), errors.Join(errA, errB)
}

func unknownUnit(text string) *Problem {
	return &Problem{fmt.Sprintf("“%s” is in no unit I know.", text), "Use " + unit.MassUnits + "."}
}

func decimal(text string) (float64, error) {
	return strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
}

// temperature reads that of water; without a unit it is in the household's.
func (h *Handler) temperature(text string) (unit.Celsius, error) {
	if _, name, err := unit.ParseNumber(text); err == nil && strings.Trim(name, "°") == "" {
		text += map[bool]string{true: "F", false: "C"}[h.opt.Voice.System == unit.US]
	}
	t, err := unit.ParseTemperature(text)
	if err != nil {
		return 0, &Problem{fmt.Sprintf("“%s” is not a temperature of water.", text), "Write it like 5 C or 41 F; it needs both water and pressure."}
	}
	return t, nil
}

// pressure reads an absolute or a gauge pressure and makes it absolute.
func pressure(text string) (unit.Pascals, error) {
	p, err := unit.ParsePressure(strings.ToLower(text))
	if err != nil || p < 0 || strings.HasPrefix(text, "-") {
		return 0, &Problem{fmt.Sprintf("“%s” is not a pressure with its unit.", text),
			"Write what the gauge shows like 4 barg or 60 psig, an absolute pressure like 5 bar or 75 psi; it needs both water and pressure."}
	}
	return p, nil
}
