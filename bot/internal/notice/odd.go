package notice

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/unit"
)

// Odd tells of a reading that is not about gas. ok is false for findings that nobody needs to hear of.
func (v Voice) Odd(s Situation, f forecast.Finding, key string) (n Notice, ok bool) {
	n = Notice{Key: key, Kind: OddReading, Cylinder: s.Cylinder, At: s.Now, Severity: Info}
	switch f.Kind {
	case forecast.Lifted:
		n.Headline = fmt.Sprintf("The cylinder%s is off its scale.", v.named(s))
		n.Body = []string{"The forecast waits until it is back. Upright and strapped, please: a falling cylinder can shear its valve."}
	case forecast.ObjectOn:
		n.Headline = fmt.Sprintf("Something of about %s was put on the scale%s.", v.Small(f.Mass), s.what())
		n.Body = []string{"It is left out of the gas until it is taken off again. Nothing to do if that is meant."}
	case forecast.ZeroStep:
		n.Headline, n.Body = v.zeroStep(s, f)
		n.Actions = []Action{{answerID("moved", s.Cylinder, f.At), "Scale or fitting, yes"}, {answerID("shut", s.Cylinder, f.At), "No, gas went"},
			{answerID("used", s.Cylinder, f.At), "We drew it"}}
	case forecast.Stuck:
		n.Headline = fmt.Sprintf("The scale%s has said exactly %s since %s.", v.named(s), v.Exact(f.Gross), v.Moment(f.Since, s.Now))
		n.Body = []string{"A living scale wavers a little, so it may hang. Restarting the board usually helps; until then the forecast rests on what came before."}
	case forecast.WrongUnit:
		n.Headline = fmt.Sprintf("%s looks like another unit; it was not counted.", v.Exact(f.Gross))
		n.Body = []string{fmt.Sprintf("As pounds it would be %s, which fits. Type it again with its unit, for example “135 lb”.", v.Exact(unit.Pounds(f.Gross.Kilograms())))}
	case forecast.Implausible:
		n.Headline, n.Body = v.unfit(f)
	case forecast.Rebased:
		n.Headline = fmt.Sprintf("The scale%s agrees with itself again, but not with what was believed: its weights count from now on.", v.named(s))
		n.Body = []string{"Something on or under it may have changed meanwhile. If the gas told now looks wrong, weigh with only the cylinder on it."}
	default:
		return Notice{}, false
	}
	return n, true
}

// Drift is a line for the weekly status: the scale follows the temperature by more than a load cell of its class should (OIML R
// 60). It is taken out of the figures as well as it can be.
func (v Voice) Drift(s Situation, f forecast.Finding) string {
	m, dir := f.Mass, "more"
	if m < 0 {
		m, dir = -m, "less"
	}
	if v.US {
		m /= 1.8 // a degree Fahrenheit is 5/9 of a degree Celsius
	}
	return fmt.Sprintf("The scale%s reads about %s %s for each degree warmer; that is taken out.", v.named(s), v.Small(m), dir)
}

// unfit tells of a weight that was not believed: f.Mass is by how much it is off what was expected, 0 if no such cylinder can
// weigh so much or so little.
func (v Voice) unfit(f forecast.Finding) (string, []string) {
	again := "Weigh once more: a second weight that agrees is believed. "
	switch {
	case f.Mass < 0:
		again += "If so much gas went, air the room and shut the cylinder valve; if it is another cylinder, say so with /filled and its tare."
	case f.Mass > 0:
		again += "If the cylinder was filled or swapped, say so with /filled."
	default:
		return fmt.Sprintf("%s cannot be this cylinder; it was not counted.", v.Exact(f.Gross)),
			[]string{"Readings that fit are awaited. If the cylinder was swapped, say so with /filled and the new tare."}
	}
	return fmt.Sprintf("%s does not fit the weights before; it is not counted yet.", v.Exact(f.Gross)), []string{again}
}

// unbelieved says why a first weight is not counted: what a cylinder that is empty or full weighs, and what may be wrong.
func (v Voice) unbelieved(s Situation) []string {
	full := s.House + s.GrossFull - s.GrossEmpty
	lines := []string{fmt.Sprintf("That came at %s. By the config it weighs %s when empty and %s when full, with its fittings.",
		v.Moment(s.Doubted.At, s.Now), v.Mass(s.House), v.Mass(full))}
	g := s.Doubted.Gross
	for _, mixed := range []struct {
		units string
		mass  unit.Grams // what the same number would be
	}{{"pounds and kilograms", unit.Pounds(g.Kilograms())}, {"pounds and kilograms", unit.Kilograms(g.Pounds())}, {"grams and kilograms", unit.Kilograms(float64(g))}} {
		if mixed.mass >= s.House && mixed.mass <= full+s.House/20 {
			return append(lines, fmt.Sprintf("With %s mixed up it would be %s, which fits: is the scale's unit in the config right?", mixed.units, v.Exact(mixed.mass)))
		}
	}
	switch {
	case g < s.House/10:
		return append(lines, "Is the cylinder on the scale, and is the scale connected? Readings that fit are awaited.")
	case g < s.House:
		return append(lines, "Are tare and fittings in the config right, and does all of the cylinder stand on the scale? Readings that fit are awaited.")
	}
	return append(lines, "Are tare and net_fill in the config right, and is the cylinder alone on the scale? Readings that fit are awaited.")
}

func (v Voice) named(s Situation) string {
	if s.Named {
		return " " + s.Cylinder
	}
	return ""
}

// longSilence is how long a scale must have said nothing for a step to be one that nobody saw.
const longSilence = 3 * time.Hour

func (v Voice) zeroStep(s Situation, f forecast.Finding) (string, []string) {
	if f.Mass < 0 && !f.Before.IsZero() && f.Since.Sub(f.Before) >= longSilence {
		return fmt.Sprintf("The scale%s reads %s less than when it was last heard, %s.", v.named(s), v.Small(-f.Mass), v.Moment(f.Before, s.Now)),
			[]string{"That is more than gets drawn in such a time. If no fitting was taken off and nobody set the platform to zero, gas may have escaped: air the room, and shut the cylinder valve.",
				"Until you say which it was, the gas figures leave it out."}
	}
	dir, m := "more", f.Mass
	if m < 0 {
		dir, m = "less", -m
	}
	return fmt.Sprintf("The scale%s reads %s %s at one stroke since %s, and stays there.", v.named(s), v.Small(m), dir, v.Moment(f.Since, s.Now)),
		[]string{"It looks as if the platform was set to zero again, or a fitting taken off or put on. The gas figures leave it out. Is that right?"}
}

// Silent tells that the scale has said nothing since last.
func (v Voice) Silent(s Situation, last time.Time, cause, key string) Notice {
	n := Notice{Key: key, Kind: ScaleSilent, Cylinder: s.Cylinder, At: s.Now, Severity: Warning}
	if last.IsZero() {
		n.Headline = fmt.Sprintf("The scale%s has not answered yet.", v.named(s))
	} else {
		n.Headline = fmt.Sprintf("The scale%s has been silent since %s.", v.named(s), v.Moment(last, s.Now))
	}
	why := "Power and Wi-Fi of the board are the usual culprits"
	if cause != "" {
		why = "Last try: " + strings.TrimRight(cause, ".")
	}
	n.Body = []string{"Leaks cannot be noticed meanwhile. " + why + "; a typed weight keeps the forecast going."}
	return n
}

// Heard tells that a scale whose silence was told answers again.
func (v Voice) Heard(s Situation, last time.Time, key, follows string) Notice {
	n := Notice{Key: key, Follows: follows, Ends: true, Kind: ScaleSilent, Cylinder: s.Cylinder, At: s.Now, Headline: fmt.Sprintf("The scale%s answers again.", v.named(s))}
	if !last.IsZero() {
		n.Body = []string{fmt.Sprintf("It had been silent since %s; what left meanwhile is counted in.", v.Moment(last, s.Now))}
	}
	return n
}

// Filled tells that gas came in. printed is the net on the receipt, 0 unknown.
func (v Voice) Filled(s Situation, net, sd, printed unit.Grams, key string) Notice {
	n := Notice{Key: key, Kind: FillSeen, Cylinder: s.Cylinder, At: s.Now,
		Headline: fmt.Sprintf("%s is filled: about %s of gas.", s.the(), v.Mass(net))}
	n.Body = []string{v.Receipt(net, sd, printed)}
	if printed == 0 && s.Fill.Tare == 0 {
		n.Body = []string{"If it is another cylinder with its own tare, say /filled with the stamped tare."}
	}
	return n
}

// Receipt holds what the scale found against the receipt. A supplier's scale and ours may differ by some grams.
func (v Voice) Receipt(net, sd, printed unit.Grams) string {
	short := printed - net
	switch {
	case printed == 0 || net == 0:
		return ""
	case math.Abs(float64(short)) > 2.5*float64(sd) && math.Abs(float64(short)) <= 0.02*float64(printed):
		side := "less"
		if short < 0 {
			side = "more"
		}
		return fmt.Sprintf("The receipt says %s; the scale finds %s %s, no more than a stamped tare may be off.", v.Mass(printed), v.Small(unit.Grams(math.Abs(float64(short)))), side)
	case math.Abs(float64(short)) <= 2.5*float64(sd):
		return fmt.Sprintf("That agrees with the %s on the receipt, give or take %s.", v.Mass(printed), v.Small(sd))
	case short > 0:
		return fmt.Sprintf("The receipt says %s; the scale finds %s less, give or take %s. Worth asking the supplier, and worth checking the scale: /calibrate says how.", v.Mass(printed), v.Small(short), v.Small(sd))
	default:
		return fmt.Sprintf("The receipt says %s; the scale finds %s more, give or take %s. Perhaps the tare is another one: /filled takes it.", v.Mass(printed), v.Small(-short), v.Small(sd))
	}
}

// Retest tells that the periodic inspection is due on a day.
func (v Voice) Retest(s Situation, due time.Time, key string) Notice {
	n := Notice{Key: key, Kind: RetestDue, Cylinder: s.Cylinder, At: s.Now, Severity: Info}
	if due.Before(s.Now) {
		n.Headline = fmt.Sprintf("The cylinder's%s retest has been due since %s.", v.named(s), v.month(due.In(v.Zone), time.Time{}))
		n.Severity = Warning
	} else {
		n.Headline = fmt.Sprintf("The cylinder's%s retest is due in %s.", v.named(s), v.month(due.In(v.Zone), time.Time{}))
	}
	n.Body = []string{"Ask the supplier when booking: after that month it may not be filled before it is inspected, and local rules decide."}
	return n
}
