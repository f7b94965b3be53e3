package notice

import (
	"fmt"
	"math"
	"time"

	"tarebell/forecast"
	"tarebell/forecast/room"
	"tarebell/forecast/unit"
)

// Loss is a loss of gas to be told.
type Loss struct {
	Finding forecast.Finding
	Room    room.Room
	Assumed bool      // the room is not described in the config: a small one stands for it
	RunOut  time.Time // when the cylinder would be empty at this rate; zero: unknown
	Danger  bool      // the release could bring the room to an exposure limit
	Money   string    // what is lost so far, priced; empty: unknown
	Again   int       // how often it was told before
	About   time.Time // when it was told first
}

// Cautions are the first things to do when gas escapes, in the order in which they are done. They follow the
// usual advice of gas suppliers' safety sheets (common practice, no source) and defer to local rules.
const (
	cautionDanger = "First: everyone out of the room, doors and windows open. Shut the cylinder valve only if you can do it from fresh air; nobody goes in to look for someone or something."
	cautionLoss   = "First: air the room, and shut the cylinder valve when nobody is carbonating. If anyone feels unwell, leave at once and call for help."
	cautionEmpty  = "Before a full cylinder goes on: air the room, and have whatever leaks mended."
	cautionRepair = "Later: soapy water on the fittings shows where it leaks. Regulators and fittings are for the supplier; in doubt call the fire service."
	cautionAir    = "A scale cannot see CO2 in the air: only a CO2 alarm low down near the cylinder can."
)

// Leak tells of gas that leaves without being used.
func (v Voice) Leak(p Place, l Loss) Notice {
	f := l.Finding
	severity, first := Warning, cautionLoss
	gone := fmt.Sprintf("%s: %s gone since %s", p.in(), v.Small(f.Mass), v.Moment(f.Since, p.Now))
	headline := "Gas is leaving" + gone + ", more than you usually draw."
	switch {
	case f.Kind == forecast.SlowLoss:
		headline = fmt.Sprintf("Gas may be leaking%s: about %s leaves while nobody draws.", p.in(), v.rate(f.Rate, f.RateSD))
	case l.Danger:
		severity, first = Danger, cautionDanger
		headline = "Gas is escaping" + gone + "."
	}
	measured := v.measured(p, l, false)
	if f.Rate <= 0 { // it ran dry: nothing leaves any more
		headline = "Gas has escaped" + gone + ", more than you can have drawn."
		if f.Mass < certain*f.MassSD {
			headline = "Gas may have escaped" + gone + ", more than you usually draw."
		}
		if !l.Danger {
			first = cautionEmpty
		}
		measured = when(l.Money != "", "That is worth %s.", l.Money)
	}
	body := []string{first, measured}
	if l.Again > 0 {
		headline = "Still no answer. " + headline
	} else {
		body = append(body, v.room(l), cautionRepair, cautionAir)
	}
	n := p.notice(PossibleLeak, headline, append(body, "What happened?")...)
	n.Severity, n.Actions = severity, Answers(p.Cylinder, l.About)
	return n
}

// certain is how many standard deviations make a mass that is gone certain.
const certain = 3

// Answers are the buttons under a leak alert that was first told at about.
func Answers(cylinder string, about time.Time) []Action {
	return []Action{
		{answerID("used", cylinder, about), "That was us"},
		{answerID("shut", cylinder, about), "A valve was open; it is shut"},
		{answerID("leak", cylinder, about), "It leaks; we see to it"},
		{answerID("moved", cylinder, about), "The scale was moved"},
	}
}

// answerID names what is answered, so that the second of two people can be told who was first.
func answerID(word, cylinder string, about time.Time) string {
	return fmt.Sprintf("answer:%s:%d:%s", word, about.Unix(), cylinder)
}

// measured says what the headline of Leak left open, the rate of a fast loss or the amount of a slow one, or both if all is to be
// said; then what it is worth and leads to.
func (v Voice) measured(p Place, l Loss, all bool) string {
	f := l.Finding
	line := fmt.Sprintf("Measured: %s lost since %s", v.Small(f.Mass), v.Moment(f.Since, p.Now))
	switch rate := "now about " + v.rate(f.Rate, f.RateSD); {
	case f.Rate <= 0:
	case all:
		line += ", " + rate
	case f.Kind != forecast.SlowLoss:
		line = "Measured: " + rate
	}
	if l.Money != "" {
		line += ", worth " + l.Money + " so far"
	}
	line += "."
	switch left := unit.Between(p.Now, l.RunOut); {
	case l.RunOut.IsZero():
	case left < 2:
		line += fmt.Sprintf(" If it goes on, the cylinder is empty in about %s.", span(max(left, 0)))
	default:
		line += fmt.Sprintf(" If it goes on, the cylinder is empty by about %s.", v.Day(l.RunOut, p.Now))
	}
	return line
}

// The exposure limits as they are read; package room has their sources.
var (
	longTerm  = whole(room.LongTerm) + " ppm"
	shortTerm = whole(room.ShortTerm) + " ppm"
	dangerous = whole(room.Dangerous) + " ppm"
)

func whole(p unit.PPM) string { return thousands(float64(p)) }

// room compares the air, by a well-mixed balance, with the exposure limits.
func (v Voice) room(l Loss) string {
	r, rate := l.Room, l.Finding.Rate
	if r.Volume <= 0 || rate <= 0 {
		return ""
	}
	quarter, hour, steady := r.After(0.25/24, rate, r.Outdoor), r.After(1.0/24, rate, r.Outdoor), r.Steady(rate)
	verdict := "below the " + longTerm + " allowed for a working day, if the gas mixes well; near the floor and the cylinder it may be far more"
	switch worst := max(hour, steady); {
	case worst >= room.Dangerous:
		verdict = "above " + dangerous + ", immediately dangerous to life or health"
	case worst >= room.ShortTerm:
		verdict = "above " + shortTerm + ", the limit for a quarter of an hour"
	case worst >= room.LongTerm:
		verdict = "above " + longTerm + ", the limit for a working day"
	}
	which := "this room"
	if l.Assumed {
		which = "a small room, as the config names none"
	}
	return fmt.Sprintf("In "+which+" (%.0f m³, %.2g air changes an hour) that makes about %s ppm CO2 after 15 minutes, %s after an hour, %s in the long run: %s.",
		r.Volume.CubicMetres(), r.AirChanges, roughly(quarter), roughly(hour), roughly(steady), verdict)
}

// roughly is a level with two digits that count.
func roughly(p unit.PPM) string {
	x := math.Min(float64(p), 1e6)
	return thousands(unit.RoundTo(x, math.Pow(10, math.Max(1, math.Floor(math.Log10(math.Max(x, 1)))-1))))
}

// Stopped tells that a told loss has ended; empty: because nothing is left.
func (v Voice) Stopped(p Place, f forecast.Finding, empty bool) Notice {
	why := "as far as the scale can tell"
	if empty {
		why = "as the cylinder is empty"
	}
	n := p.notice(PossibleLeak, fmt.Sprintf("No more gas is escaping%s, %s.", p.in(), why),
		fmt.Sprintf("In all about %s went since %s.", v.Small(f.Mass), v.Moment(f.Since, p.Now)),
		"Air the room well before anyone stays in it. "+cautionAir)
	n.Ends = true
	return n
}

// Over is what stands in place of an alert's headline when it has ended.
func Over(headline string) string { return "Over by now. It said: " + headline }
