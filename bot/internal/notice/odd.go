package notice

import (
	"fmt"
	"strings"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/unit"
)

// Odd tells of a reading that is not about gas. ok is false for findings that nobody needs to hear of.
func (v Voice) Odd(p Place, f forecast.Finding) (n Notice, ok bool) {
	scale := "The scale" + p.which(" ")
	say := func(headline string, body ...string) { n = p.notice(OddReading, headline, body...) }
	switch f.Kind {
	case forecast.Lifted:
		say(fmt.Sprintf("The cylinder%s is off its scale.", p.which(" ")),
			"The forecast waits until it is back. Upright and strapped, please: a falling cylinder can shear its valve.")
	case forecast.ObjectOn:
		say(fmt.Sprintf("Something of about %s was put on the scale%s.", v.Small(f.Mass), p.in()),
			"It is left out of the gas until it is taken off again. Nothing to do if that is meant.")
	case forecast.ZeroStep:
		say(v.zeroStep(p, f))
		n.Actions = stepAnswers(p, f, "Scale or fitting, yes", "No, gas went")
	case forecast.Fell:
		say(v.gone(p, f))
		n.Actions = stepAnswers(p, f, "Scale or fitting", "Gas went")
	case forecast.Stuck:
		say(fmt.Sprintf("%s has said exactly %s since %s.", scale, v.Exact(f.Gross), v.Moment(f.Since, p.Now)),
			"A living scale wavers a little, so it may hang. Restarting the board usually helps; until then the forecast rests on what came before.")
	case forecast.WrongUnit:
		say(fmt.Sprintf("%s looks like another unit; it was not counted.", v.Exact(f.Gross)),
			fmt.Sprintf("As pounds it would be %s, which fits. Type it again with its unit, for example “135 lb”.", v.Exact(unit.Pounds(f.Gross.Kilograms()))))
	case forecast.Implausible:
		say(v.unfit(f))
	case forecast.FillGone:
		say(fmt.Sprintf("That was no filling%s: what came onto the scale is gone again.", p.of()),
			"The gas is told as before. If a full cylinder was taken away again, say so with /filled once one is there.")
	case forecast.Rebased:
		say(scale+" agrees with itself again, but not with what was believed: its weights count from now on.",
			"Something on or under it may have changed meanwhile. If the gas told now looks wrong, weigh with only the cylinder on it.")
	default:
		return Notice{}, false
	}
	return n, true
}

// stepAnswers are the buttons under a step of the scale: that it was no gas, or that it was.
func stepAnswers(p Place, f forecast.Finding, moved, gas string) []Action {
	return []Action{{answerID("moved", p.Cylinder, f.At), moved}, {answerID("shut", p.Cylinder, f.At), gas},
		{answerID("used", p.Cylinder, f.At), "We drew it"}}
}

// gone tells of a fall that counts as gas: in a silence, or at one stroke.
func (v Voice) gone(p Place, f forecast.Finding) (headline, what, asked string) {
	const scale = "If a fitting was taken off, or the platform set to zero, say so: then it is left out."
	if f.Since.Sub(f.Before) >= longSilence {
		return v.fell(p, f),
			"That is more than mostly gets drawn in such a time; it counts as gone. If nobody drew it, gas may have escaped: air the room, and shut the cylinder valve.",
			scale
	}
	return fmt.Sprintf("%s of gas went at one stroke%s, between %s and %s.", v.Small(-f.Mass), p.which(" from cylinder "), v.Moment(f.Before, p.Now), v.Moment(f.Since, p.Now)),
		"It counts as drawn, as for a keg or a batch of bottles; the next one like it is not asked about. If nobody drew it, gas may have escaped: air the room, and shut the cylinder valve.",
		scale
}

// fell says by how much less the scale shows after a silence.
func (v Voice) fell(p Place, f forecast.Finding) string {
	return fmt.Sprintf("The scale%s reads %s less than when it was last heard, %s.", p.which(" "), v.Small(-f.Mass), v.Moment(f.Before, p.Now))
}

// Drift is a line for the weekly status: the scale follows the temperature by more than a load cell of its class should (OIML R
// 60). It is taken out of the figures as well as it can be.
func (v Voice) Drift(p Place, f forecast.Finding) string {
	m, dir := amount(f.Mass)
	if v.System == unit.US {
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
func (v Voice) unfit(f forecast.Finding) (headline, mend string) {
	again := "Weigh once more: a second weight that agrees is believed. "
	switch {
	case f.Mass < 0:
		again += "If so much gas went, air the room and shut the cylinder valve; if it is another cylinder, say so with /filled and its tare."
	case f.Mass > 0:
		again += "If the cylinder was filled or swapped, say so with /filled."
	default:
		return fmt.Sprintf("%s cannot be this cylinder; it was not counted.", v.Exact(f.Gross)),
			"Readings that fit are awaited. If the cylinder was swapped, say so with /filled and the new tare."
	}
	return fmt.Sprintf("%s does not fit the weights before; it is not counted yet.", v.Exact(f.Gross)), again
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

func (v Voice) zeroStep(p Place, f forecast.Finding) (headline, what, asked string) {
	if f.Mass < 0 && !f.Before.IsZero() && f.Since.Sub(f.Before) >= longSilence {
		return v.fell(p, f),
			"That is more than gets drawn in such a time. If no fitting was taken off and nobody set the platform to zero, gas may have escaped: air the room, and shut the cylinder valve.",
			"Until you say which it was, the gas figures leave it out."
	}
	m, dir := amount(f.Mass)
	return fmt.Sprintf("The scale%s reads %s %s at one stroke since %s, and stays there.", p.which(" "), v.Small(m), dir, v.Moment(f.Since, p.Now)),
		"It looks as if the platform was set to zero again, or a fitting taken off or put on. The gas figures leave it out. Is that right?",
		when(f.Mass < 0, "If gas went instead: air the room first, and shut the cylinder valve.")
}

// Silent tells that the scale has said nothing since last; zero: ever.
func (v Voice) Silent(p Place, last time.Time, cause string) Notice {
	state := "has not answered yet"
	if !last.IsZero() {
		state = "has been silent since " + v.Moment(last, p.Now)
	}
	why := "Power and Wi-Fi of the board are the usual culprits"
	if cause != "" {
		why = "Last try: " + strings.TrimRight(cause, ".")
	}
	n := p.notice(ScaleSilent, fmt.Sprintf("The scale%s %s.", p.which(" "), state),
		"Leaks cannot be noticed meanwhile. "+why+"; a typed weight keeps the forecast going.")
	n.Severity = Warning
	return n
}

// Heard tells that a scale whose silence was told answers again.
func (v Voice) Heard(p Place, last time.Time) Notice {
	n := p.notice(ScaleSilent, fmt.Sprintf("The scale%s answers again.", p.which(" ")),
		when(!last.IsZero(), "It had been silent since %s; what left meanwhile is counted in.", v.Moment(last, p.Now)))
	n.Ends = true
	return n
}

// Filled tells that gas came in.
func (v Voice) Filled(p Place, f Fill) Notice {
	more := v.Receipt(f.Seen, f.SeenSD, f.Receipt)
	if f.Receipt == 0 && f.Tare == 0 {
		more = "If it is another cylinder with its own tare, say /filled with the stamped tare."
	}
	return p.notice(FillSeen, fmt.Sprintf("%s is filled: about %s of gas.", p.the(), v.Mass(f.Seen)), more)
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
func (v Voice) Retest(p Place, due time.Time) Notice {
	state, severity := "is due in", Info
	if due.Before(p.Now) {
		state, severity = "has been due since", Warning
	}
	n := p.notice(RetestDue, fmt.Sprintf("The cylinder's%s retest %s %s.", p.which(" "), state, month(due.In(v.Zone))),
		"Ask the supplier when booking: after that month it may not be filled before it is inspected, and local rules decide.")
	n.Severity = severity
	return n
}
