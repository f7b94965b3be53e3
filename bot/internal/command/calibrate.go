package command

import (
	"context"
	"fmt"
	"math"
	"regexp"
	"strings"

	"tarebell/bot/internal/chat"
	"tarebell/bot/internal/notice"
	"tarebell/forecast/calibration"
	"tarebell/forecast/unit"
)

// calibrateSteps is how to check a scale.
var calibrateSteps = []string{
	"1. Cylinder off, platform empty: note what the scale says, counts or weight.",
	"2. Put known masses on, at least one, better three up to a full cylinder. Water does: a litre at room temperature is 1 kg less 2 g; weigh the can on a good scale.",
	"3. Note each reading twice, and once with the mass at a corner.",
	"4. Enter it all: /calibrate loads:\"0 kg: 84213 / 84209; 5 kg: 191100; 10 kg: 297900 / 297905; 10 kg front left: 297880\" step:\"5 g\"",
}

func (h *Handler) calibrate(_ context.Context, r request, s notice.Situation) (chat.Answer, error) {
	if strings.TrimSpace(r.options["loads"]) == "" {
		return say("A scale is checked with masses that are known.", calibrateSteps...), nil
	}
	c, err := readLoads(r.options["loads"])
	if err != nil {
		return chat.Answer{}, err
	}
	o, err := h.calibration(s.Cylinder, &c, r.options["step"])
	if err != nil {
		return chat.Answer{}, err
	}
	if c.Result, err = calibration.Fit(c.Loads, o); err != nil {
		return chat.Answer{}, &Problem{"That does not make a calibration: " + strings.TrimRight(plain(err), "?.") + ".", "For example: 0 kg: 84213; 10 kg: 297900."}
	}
	head, body := h.opt.Voice.Calibrated(c)
	a := say(head, body...)
	switch {
	case len(c.Doubts) > 0:
		return a, nil
	case c.Weights:
		return withButtons(a, button("checked", s.Cylinder, "Note that it is checked")), nil
	}
	return withButtons(a, button("checked", s.Cylinder, "It is set in the board")), nil
}

// calibration is what the calibration should know about the scale of a cylinder.
func (h *Handler) calibration(cylinder string, r *notice.Calibration, step string) (calibration.Options, error) {
	r.Unit = "kg"
	if h.opt.Voice.System == unit.US {
		r.Unit = "lb"
	}
	s, known := h.opt.Scales[cylinder]
	if known {
		r.Unit = s.Unit
	}
	grams, err := unit.MassUnit(r.Unit)
	if err != nil {
		return calibration.Options{}, fmt.Errorf("scale of %s: unit %q: %w", cylinder, r.Unit, err)
	}
	o := calibration.Options{GramsPerUnit: float64(grams)}
	if r.Weights { // they had units
		for _, l := range r.Loads {
			for i := range l.Readings {
				l.Readings[i] /= float64(grams)
			}
		}
	}
	r.Weights = r.Weights || !areCounts(r.Loads, s, float64(grams))
	o.Weights = r.Weights
	if s.Raw && !r.Weights {
		o.Previous = calibration.Line{Zero: s.Zero, PerUnit: s.PerUnit, GramsPerUnit: float64(grams)}
	}
	o.Interval, err = readStep(step)
	return o, err
}

// readStep reads the smallest step of a scale; absent it is 0.
func readStep(text string) (unit.Grams, error) {
	if text = strings.TrimSpace(text); text == "" {
		return 0, nil
	}
	m, err := unit.ParseMass(text)
	if err != nil || m <= 0 || m > 1000 {
		return 0, &Problem{fmt.Sprintf("“%s” is not the step of a scale.", text), "Write it like 5 g or 0.1 lb."}
	}
	return m, nil
}

// areCounts reports whether readings are counts of a converter: the scale sends them, or they are far too large for weights.
func areCounts(loads []calibration.Load, s Scale, grams float64) bool {
	if s.Raw {
		return true
	}
	most, largest := 0.0, 0.0
	for _, l := range loads {
		largest = math.Max(largest, float64(l.Mass))
		for _, r := range l.Readings {
			most = math.Max(most, math.Abs(r))
		}
	}
	return most*grams > 20*math.Max(largest, 1000)
}

var thousands = regexp.MustCompile(`^-?[0-9]{1,3}(,[0-9]{3})+$`)

// readLoads reads "0 kg: 84213; 10 kg: 297900 / 297905; 10 kg front left: 297880".
func readLoads(text string) (notice.Calibration, error) {
	var r notice.Calibration
	bare := false
	for _, part := range splitList(text) {
		left, right, ok := strings.Cut(strings.Replace(part, "=", ":", 1), ":")
		if !ok {
			return r, &Problem{fmt.Sprintf("“%s” is not a load with what the scale said.", part), "Write it like 10 kg: 297900."}
		}
		l, said, err := readLoad(strings.TrimSpace(left))
		if err != nil {
			return r, err
		}
		for _, reading := range strings.Split(right, "/") {
			x, weight, err := readReading(strings.TrimSpace(reading))
			if err != nil {
				return r, err
			}
			r.Weights, bare = r.Weights || weight, bare || !weight && x != 0
			l.Readings = append(l.Readings, x)
		}
		r.Loads, r.Said = append(r.Loads, l), append(r.Said, said)
	}
	if r.Weights && bare {
		return r, &Problem{"Some readings have a unit and some have none.", "Give all of them one, or none."}
	}
	if len(r.Loads) < 2 {
		return r, &Problem{"One load is not enough for a calibration.", "Take the empty platform as 0 kg and at least one known mass: 0 kg: 84213; 10 kg: 297900."}
	}
	return r, nil
}

// readLoad reads "10 kg front left" or "empty".
func readLoad(text string) (l calibration.Load, said string, err error) {
	if strings.EqualFold(text, "empty") || text == "0" {
		return l, "0", nil
	}
	x, rest, err := unit.ParseNumber(text)
	if err != nil || x < 0 {
		return l, "", &Problem{fmt.Sprintf("“%s” is not a known mass.", text), "Write it like 10 kg, with a place if it is not the middle: 10 kg front left."}
	}
	name, place, _ := strings.Cut(rest, " ")
	size, err := unit.MassUnit(name)
	switch {
	case name != "" && err != nil:
		return l, "", unknownUnit(text)
	case name == "" && x != 0:
		return l, "", &Problem{fmt.Sprintf("In which unit is the mass “%s”?", text), "Write it like 10 kg or 22 lb."}
	}
	place = strings.ToLower(strings.TrimSpace(place))
	if place == "middle" || place == "centre" || place == "center" {
		place = ""
	}
	number := strings.TrimSpace(strings.TrimSuffix(text, rest))
	return calibration.Load{Mass: unit.MassOf(x, max(size, 1)), Place: place}, strings.TrimSpace(number + " " + name), nil
}

// readReading reads one reading: a bare number, or a weight in grams if it has a unit.
func readReading(text string) (x float64, weight bool, err error) {
	if thousands.MatchString(text) {
		return 0, false, &Problem{fmt.Sprintf("“%s” can be read in two ways.", text), "Write " + strings.ReplaceAll(text, ",", "") + ", or " + strings.Replace(text, ",", ".", 1) + " if that is meant."}
	}
	x, name, err := unit.ParseNumber(text)
	if err != nil {
		return 0, false, &Problem{fmt.Sprintf("“%s” is not a reading.", text), "Write the number the scale shows, such as 297900 or 10.02."}
	}
	if name == "" {
		return x, false, nil
	}
	size, err := unit.MassUnit(name)
	if err != nil {
		return 0, false, &Problem{fmt.Sprintf("“%s” is in no unit I know.", text), "Leave it out for counts, or use " + unit.MassUnits + "."}
	}
	return float64(unit.MassOf(x, size)), true, nil
}
