package entry

import (
	"fmt"
	"math"
	"time"

	"tarebell/forecast/unit"
	"tarebell/forecast/unit/mistake"
)

// mass is the mass of u in its unit, as exactly as it is kept.
func (u Understood) mass() string { return in(u.Gross, u.Unit, 4) }

// rough is m in the household's units, for questions.
func rough(m unit.Grams, s unit.System) string {
	switch {
	case s == unit.US:
		return in(m, Pounds, 1)
	case math.Abs(float64(m)) < unit.GramsPerKilogram:
		return in(m, Grams, 0)
	}
	return in(m, Kilograms, 2)
}

// change is a difference of weights, to 10 g where it is told in grams: the last weight is known no better.
func change(m unit.Grams, s unit.System) string {
	if s == unit.Metric && math.Abs(float64(m)) < unit.GramsPerKilogram {
		m = unit.Grams(10 * math.Round(float64(m)/10))
	}
	return rough(m, s)
}

// Echo is the mass of u as it was typed, for telling it back: "54 lb 3 oz (24.58 kg)", "7.2 kg net".
func (u Understood) Echo(s unit.System) string {
	if u.Net {
		return u.both(s) + " net"
	}
	return u.both(s)
}

// both is u in its own unit and, if that is another, in the household's.
func (u Understood) both(s unit.System) string {
	own := u.mass()
	if (u.Unit == Kilograms) == (s == unit.Metric) {
		return own
	}
	return own + " (" + rough(u.Gross, s) + ")"
}

// Said is u for people, as on a button: mass, "net" if so, the cylinder if there are several, the time if it
// is not now.
func (u Understood) Said(ctx Context) string {
	ctx.Now = ctx.Now.Truncate(time.Second)
	return u.said(&ctx)
}

// said is u for a question: mass, kind if net, cylinder if there are several, time if it is not now.
func (u Understood) said(ctx *Context) string {
	s := u.mass()
	if u.Net {
		s += " net"
	}
	if len(ctx.Cylinders) > 1 && u.Cylinder != "" {
		s += " for " + u.Cylinder
	}
	if !u.At.Equal(ctx.Now) {
		s += ", " + u.moment(ctx, "", " ")
	}
	return s
}

// moment is when u was weighed, for people: "today 18:00", or with on and at in a sentence "on Mon 2 Jan 2006 at 18:00".
func (u Understood) moment(ctx *Context, on, at string) string {
	clock := at + u.At.Format("15:04")
	if ctx.Units == unit.US {
		clock = at + u.At.Format("3:04 PM")
	}
	today := dateOf(ctx.Now)
	switch d := dateOf(u.At); d {
	case today:
		return "today" + clock
	case today.plus(-1):
		return "yesterday" + clock
	}
	return on + u.At.Format("Mon 2 Jan 2006") + clock
}

// list says each of some things, with a word before the last.
func list[T any](things []T, word string, say func(T) string) string {
	var said []string
	for _, x := range things {
		said = append(said, say(x))
	}
	return mistake.Join(said, word)
}

func askWhich(us []Understood, ctx *Context) string {
	said := list(us, "and", func(u Understood) string { return u.said(ctx) })
	return "I read more than one weight: " + said + ". Which one shall I note?"
}

func askCylinder(us []Understood) string {
	return us[0].mass() + ": which cylinder, " + list(us, "or", func(u Understood) string { return u.Cylinder }) + "?"
}

func askNet(u Understood) string {
	if u.Net {
		return "Is " + u.mass() + " the gas alone, without the cylinder?"
	}
	return "Is " + u.mass() + " the cylinder with its gas, as the scale shows it?"
}

func askRange(u Understood, ctx *Context) string {
	c := cylinderOf(u, ctx)
	lo, hi, what := c.Empty(), c.Full(), "The cylinder on the scale"
	if u.Net {
		lo, hi, what = 0, c.NetFill, "Its gas"
	}
	if c.NetFill <= 0 {
		return "Is " + u.both(ctx.Units) + " right?"
	}
	return fmt.Sprintf("%s weighs between %s and %s. Is %s right?", what, rough(lo, ctx.Units), rough(hi, ctx.Units), u.both(ctx.Units))
}

func askRise(u Understood, d unit.Grams, c *Cylinder, ctx *Context) string {
	if c.Dry {
		return "It ran dry, but at " + u.mass() + " there would be " + change(d, ctx.Units) + " of gas in it. Was the cylinder filled?"
	}
	return u.mass() + " is " + change(d, ctx.Units) + " more than by the weights before. Was the cylinder filled?"
}

func askDrop(u Understood, d unit.Grams, ctx *Context) string {
	return u.mass() + " would be " + change(d, ctx.Units) + " less than by the weights before. Is that a weight?"
}

// askUnknown asks about a weight among words that were not understood: one of them may be its time.
func askUnknown(u Understood, words []string, ctx *Context) string {
	quoted := list(words, "and", func(w string) string { return "“" + w + "”" })
	said := u.said(ctx)
	if u.At.Equal(ctx.Now) {
		said += ", weighed just now"
	}
	return "I could not read " + quoted + ". Shall I note " + said + "?"
}

func askTime(us []Understood, why Reason, ctx *Context) string {
	q := us[0].mass() + " weighed " + list(us, "or", func(u Understood) string {
		if u.At.Equal(ctx.Now) {
			return "just now"
		}
		return u.moment(ctx, "on ", " at ")
	}) + "?"
	switch why {
	case Future:
		return "That time is still to come. Was " + q
	case LongAgo:
		return "That is long ago. Was " + q
	case WhichTime:
		if len(us) == 1 {
			return "I am not sure about the time. Was " + q
		}
	}
	return "Was " + q
}
