package notice

import (
	"fmt"
	"math"
	"strings"

	"tarebell/forecast/calibration"
	"tarebell/forecast/unit"
)

// Calibration is a scale held against known masses.
type Calibration struct {
	calibration.Result
	Loads   []calibration.Load
	Said    []string // each load's mass as it was typed
	Unit    string   // kg or lb, of the line
	Weights bool     // readings were weights already
}

// Calibrated says what known masses showed about a scale.
func (v Voice) Calibrated(c Calibration) (headline string, body []string) {
	if len(c.Doubts) > 0 {
		headline, why := v.doubt(c, c.Doubts[0])
		return headline, lines(why, "Nothing was taken over. Say it again once that is cleared up.")
	}
	good := when(c.Freedom > 0, " It is not as good as its steps promise.")
	if c.InService {
		good = when(c.Freedom > 0, " It is good enough.")
	}
	if c.Weights {
		headline = "The scale agrees with the known masses." + good
		if !c.InService || math.Abs(c.Line.PerUnit-1) > 0.002 || math.Abs(c.Line.Zero*c.Line.GramsPerUnit) > float64(c.Interval) {
			headline = fmt.Sprintf("Correct the scale: take %s %s off what it says, then divide by %s.", unit.Number(c.Line.Zero, 0, 4), c.Unit, unit.Number(c.Line.PerUnit, 0, 5)) + strings.Replace(good, "It is", "After that it is", 1)
		}
	} else {
		headline = fmt.Sprintf("Zero is at %s counts, and a %s more is %s counts.", unit.Number(c.Line.Zero, 0, 1), unitName(c.Unit), unit.Number(c.Line.PerUnit, 0, 2)) + good
	}
	return headline, lines(v.firmware(c), v.straight(c),
		when(c.HasRepeatability, "Repeats of the same load differ by %s at most.", v.deviation(c.Repeatability)),
		when(c.HasEccentricity, "Off the middle it shows up to %s differently.", v.deviation(c.Eccentricity)),
		"This is no verification; that takes test weights and whoever is licensed to do it.")
}

func unitName(u string) string {
	return map[string]string{"kg": "kilogram", "lb": "pound", "g": "gram", "oz": "ounce"}[u]
}

// significant prints x with so many significant digits and without an exponent.
func significant(x float64, digits int) string {
	if x == 0 {
		return "0"
	}
	return unit.Number(x, 0, max(0, digits-1-int(math.Floor(math.Log10(math.Abs(x))))))
}

// deviation is an error of some grams without its sign.
func (v Voice) deviation(m unit.Grams) string {
	m = unit.Grams(math.Abs(float64(m)))
	if m < 10 {
		return v.Fine(m)
	}
	return v.Small(m)
}

// firmware gives the line in the forms that config and boards want it in.
func (v Voice) firmware(c Calibration) string {
	if c.Weights {
		return "If the board keeps an offset and a factor, set the offset to what the empty platform shows and multiply the factor by " + unit.Number(1/c.Line.PerUnit, 0, 5) + "."
	}
	return fmt.Sprintf("In the config: raw: {zero: %s, per_unit: %s}, with unit: %s. In firmware: offset %s, scale %s counts per %s, or %s %s per count.",
		unit.Number(c.Line.Zero, 0, 1), unit.Number(c.Line.PerUnit, 0, 3), c.Unit, unit.Number(c.Line.Zero, 0, 1), unit.Number(c.Line.PerUnit, 0, 3), c.Unit,
		significant(c.Line.UnitsPerCount(), 6), c.Unit)
}

// straight holds the loads against the limits of class III in service (OIML R 76-1, table 6 and 3.5.2).
func (v Voice) straight(c Calibration) string {
	if c.Freedom == 0 {
		return "Two loads fit any line. A third one, and each of them twice, would show how good the scale is."
	}
	line := fmt.Sprintf("Farthest off the line: %s.", v.deviation(c.Nonlinearity))
	if c.InService {
		return line + fmt.Sprintf(" That keeps the limits of class III in service for steps of %s (OIML R 76).", v.Small(c.Interval))
	}
	for _, e := range c.Errors {
		if !e.Within {
			line += fmt.Sprintf(" At %s%s it is off by %s; %s would be allowed for steps of %s (OIML R 76, class III in service).",
				c.name(e.Load), when(e.Place != "", " at the %s", e.Place), v.deviation(e.Error), v.Small(e.Limit), v.Small(c.Interval))
			break
		}
	}
	return line + when(c.Finest > 0, " It is good for steps of %s.", v.Small(c.Finest))
}

func (c Calibration) name(i int) string {
	if i < len(c.Said) {
		return c.Said[i]
	}
	return fmt.Sprintf("load %d", i+1)
}

// doubt explains a likely mistake without blame: what does not fit, and what would.
func (v Voice) doubt(c Calibration, d calibration.Doubt) (headline, why string) {
	load := ""
	if len(d.Loads) > 0 {
		load = c.name(d.Loads[0])
	}
	switch d.Kind {
	case calibration.ScaleUnit:
		return fmt.Sprintf("The scale seems to speak %ss where %ss were expected.", unitName(d.Mix.Is), unitName(d.Mix.Taken)),
			fmt.Sprintf("Every load shows %s times what it should, and a %s is %s %s. Set the unit of the scale to %s, or type the masses in %s if they are marked so.",
				unit.Number(d.Ratio, 0, 4), unitName(d.Mix.Taken), unit.Number(1/d.Mix.Factor, 0, 4), d.Mix.Is, d.Mix.Is, d.Mix.Is)
	case calibration.SpanFar:
		return fmt.Sprintf("The scale shows %s times what the masses say.", unit.Number(d.Ratio, 0, 3)),
			"That is more than a scale drifts. Were all masses on the platform, and does nothing touch it?"
	case calibration.TypedUnit:
		return fmt.Sprintf("The load typed as %s looks like %s %s.", load, withoutUnit(load), d.Mix.Is),
			fmt.Sprintf("By the other loads it weighs %s. Type it as %s %s if that is what is marked on it.", v.Exact(d.Mass), withoutUnit(load), d.Mix.Is)
	case calibration.WrongMass:
		return fmt.Sprintf("The load typed as %s does not fit the others.", load),
			fmt.Sprintf("By the others it weighs %s. Was something else on the platform, or is its mark wrong?", v.Exact(d.Mass))
	case calibration.OneWrong:
		var names []string
		for _, i := range d.Loads {
			names = append(names, c.name(i))
		}
		why := "Another known mass would show which."
		if d.Mix.Is != "" {
			why = fmt.Sprintf("It looks as if %s is in %s, not %s. Another known mass would make sure.", names[0], d.Mix.Is, d.Mix.Taken)
		}
		return fmt.Sprintf("One of %s is not what it says.", and(names)), why
	default:
		return "The readings do not lie on a line.", "No single mass explains it. Does the platform touch something, or were readings taken before they settled?"
	}
}

// withoutUnit is a typed mass without its unit.
func withoutUnit(s string) string {
	if f := strings.Fields(s); len(f) > 0 {
		return strings.TrimRightFunc(f[0], func(r rune) bool { return r >= 'A' })
	}
	return s
}
