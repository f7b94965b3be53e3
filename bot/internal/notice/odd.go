package notice

import (
	"fmt"
	"strings"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/unit"
)

// Odd tells of a reading that is not about gas. ok is false for findings that nobody needs to hear of.
func (v Voice) Odd(p Place, f forecast.Finding, key string) (n Notice, ok bool) {
	n = p.notice(OddReading, key, "")
	switch f.Kind {
	case forecast.Lifted:
		n.Headline = fmt.Sprintf("The cylinder%s is off its scale.", p.which(" "))
		n.Body = []string{"The forecast waits until it is back. Upright and strapped, please: a falling cylinder can shear its valve."}
	case forecast.ObjectOn:
		n.Headline = fmt.Sprintf("Something of about %s was put on the scale%s.", v.Small(f.Mass), p.in())
		n.Body = []string{"It is left out of the gas until it is taken off again. Nothing to do if that is meant."}
	case forecast.ZeroStep:
		n.Headline, n.Body = v.zeroStep(p, f)
		n.Actions = []Action{{answerID("moved", p.Cylinder, f.At), "Scale or fitting, yes"}, {answerID("shut", p.Cylinder, f.At), "No, gas went"},
			{answerID("used", p.Cylinder, f.At), "We drew it"}}
	case forecast.Fell:
		n.Headline = fmt.Sprintf("The scale%s reads %s less than when it was last heard, %s.", p.which(" "), v.Small(-f.Mass), v.Moment(f.Before, p.Now))
		n.Body = []string{"That is more than mostly gets drawn in such a time; it counts as gone. If nobody drew it, gas may have escaped: air the room, and shut the cylinder valve.",
			"If a fitting was taken off, or the platform set to zero, say so: then it is left out."}
		n.Actions = []Action{{answerID("moved", p.Cylinder, f.At), "Scale or fitting"}, {answerID("shut", p.Cylinder, f.At), "Gas went"},
			{answerID("used", p.Cylinder, f.At), "We drew it"}}
	case forecast.Stuck:
		n.Headline = fmt.Sprintf("The scale%s has said exactly %s since %s.", p.which(" "), v.Exact(f.Gross), v.Moment(f.Since, p.Now))
		n.Body = []string{"A living scale wavers a little, so it may hang. Restarting the board usually helps; until then the forecast rests on what came before."}
	case forecast.WrongUnit:
		n.Headline = fmt.Sprintf("%s looks like another unit; it was not counted.", v.Exact(f.Gross))
		n.Body = []string{fmt.Sprintf("As pounds it would be %s, which fits. Type it again with its unit, for example “135 lb”.", v.Exact(unit.Pounds(f.Gross.Kilograms())))}
	case forecast.Implausible:
		n.Headline, n.Body = v.unfit(f)
	case forecast.Rebased:
		n.Headline = fmt.Sprintf("The scale%s agrees with itself again, but not with what was believed: its weights count from now on.", p.which(" "))
		n.Body = []string{"Something on or under it may have changed meanwhile. If the gas told now looks wrong, weigh with only the cylinder on it."}
	default:
		return Notice{}, false
	}
	return n, true
}

// Drift is a line for the weekly status: the scale follows the temperature by more than a load cell of its class should (OIML R
// 60). It is taken out of the figures as well as it can be.
func (v Voice) Drift(p Place, f forecast.Finding) string {
	m, dir := amount(f.Mass)
	if v.US {
		m /= 1.8 // a degree Fahrenheit is 5/9 of a degree Celsius
	}
	return fmt.Sprintf("The scale%s reads about %s %s for each degree warmer; that is taken out.", p.which(" "), v.Small(m), dir)
}

// amount is a difference without its sign, and its direction.
func amount(m unit.Grams) (unit.Grams, string) {
	if m < 0 {
		return -m, "less"
	}
	return m, "more"
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

// longSilence is how long a scale must have said nothing for a step to be one that nobody saw.
const longSilence = 3 * time.Hour

func (v Voice) zeroStep(p Place, f forecast.Finding) (string, []string) {
	m, dir := amount(f.Mass)
	if f.Mass < 0 && !f.Before.IsZero() && f.Since.Sub(f.Before) >= longSilence {
		return fmt.Sprintf("The scale%s reads %s less than when it was last heard, %s.", p.which(" "), v.Small(m), v.Moment(f.Before, p.Now)),
			[]string{"That is more than gets drawn in such a time. If no fitting was taken off and nobody set the platform to zero, gas may have escaped: air the room, and shut the cylinder valve.",
				"Until you say which it was, the gas figures leave it out."}
	}
	return fmt.Sprintf("The scale%s reads %s %s at one stroke since %s, and stays there.", p.which(" "), v.Small(m), dir, v.Moment(f.Since, p.Now)),
		[]string{"It looks as if the platform was set to zero again, or a fitting taken off or put on. The gas figures leave it out. Is that right?"}
}

// Silent tells that the scale has said nothing since last.
func (v Voice) Silent(p Place, last time.Time, cause, key string) Notice {
	n := p.notice(ScaleSilent, key, "")
	n.Severity = Warning
	if last.IsZero() {
		n.Headline = fmt.Sprintf("The scale%s has not answered yet.", p.which(" "))
	} else {
		n.Headline = fmt.Sprintf("The scale%s has been silent since %s.", p.which(" "), v.Moment(last, p.Now))
	}
	why := "Power and Wi-Fi of the board are the usual culprits"
	if cause != "" {
		why = "Last try: " + strings.TrimRight(cause, ".")
	}
	n.Body = []string{"Leaks cannot be noticed meanwhile. " + why + "; a typed weight keeps the forecast going."}
	return n
}

// Heard tells that a scale whose silence was told answers again.
func (v Voice) Heard(p Place, last time.Time, key, follows string) Notice {
	n := p.notice(ScaleSilent, key, follows)
	n.Ends = true
	n.Headline = fmt.Sprintf("The scale%s answers again.", p.which(" "))
	if !last.IsZero() {
		n.Body = []string{fmt.Sprintf("It had been silent since %s; what left meanwhile is counted in.", v.Moment(last, p.Now))}
	}
	return n
}

// Filled tells that gas came in.
func (v Voice) Filled(p Place, f Fill, key string) Notice {
	n := p.notice(FillSeen, key, "")
	n.Headline = fmt.Sprintf("%s is filled: about %s of gas.", p.the(), v.Mass(f.Seen))
	n.Body = lines(v.Receipt(f.Seen, f.SeenSD, f.Receipt))
	if f.Receipt == 0 && f.Tare == 0 {
		n.Body = []string{"If it is another cylinder with its own tare, say /filled with the stamped tare."}
	}
	return n
}

// stampedTare is how far off a stamped tare may be, as a share of the gas on the receipt.
const stampedTare = 0.02

// Receipt holds what the scale found against the receipt. A supplier's scale and ours may differ by some grams.
func (v Voice) Receipt(net, sd, printed unit.Grams) string {
	if printed == 0 || net == 0 {
		return ""
	}
	off, dir := amount(net - printed)
	differs := fmt.Sprintf("The receipt says %s; the scale finds %s %s, ", v.Mass(printed), v.Small(off), dir)
	switch within := "give or take " + v.Small(sd) + "."; {
	case off <= 2.5*sd:
		return fmt.Sprintf("That agrees with the %s on the receipt, %s", v.Mass(printed), within)
	case off <= stampedTare*printed:
		return differs + "no more than a stamped tare may be off."
	case net < printed:
		return differs + within + " Worth asking the supplier, and worth checking the scale: /calibrate says how."
	default:
		return differs + within + " Perhaps the tare is another one: /filled takes it."
	}
}

// Retest tells that the periodic inspection is due on a day.
func (v Voice) Retest(p Place, due time.Time, key string) Notice {
	n := p.notice(RetestDue, key, "")
	n.Headline = fmt.Sprintf("The cylinder's%s retest is due in %s.", p.which(" "), month(due.In(v.Zone)))
	if due.Before(p.Now) {
		n.Headline = fmt.Sprintf("The cylinder's%s retest has been due since %s.", p.which(" "), month(due.In(v.Zone)))
		n.Severity = Warning
	}
	n.Body = []string{"Ask the supplier when booking: after that month it may not be filled before it is inspected, and local rules decide."}
	return n
}
